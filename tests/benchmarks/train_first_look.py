"""python -m tests.benchmarks.train_first_look FOLDER... [--out FILE.onnx]: learn where card and square lie.

A folder holds NAME.jpg with NAME.json, as `tests.benchmarks.photo_simulator` writes them. Needs PyTorch and
onnx, which the project itself does not. The photos' own tables are few, so in most samples the table is
another: `tests.benchmarks.first_look_samples` says how. The same seed and folders give the same samples.
"""

from __future__ import annotations

import argparse
import copy
import time
from pathlib import Path

import cv2
import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional

from tests.benchmarks.first_look_samples import Samples, keep_small

MAPS = 2  # card, square
SIDE = 320  # as in `vision.reading.card.first_look`


def _conv(inside: int, outside: int, stride: int = 1, side: int = 3) -> nn.Sequential:
    conv = nn.Conv2d(inside, outside, side, stride, side // 2, bias=False)
    return nn.Sequential(conv, nn.BatchNorm2d(outside), nn.ReLU(inplace=True))


class Wide(nn.Module):
    """Looks far about at little cost: each channel by itself, then all together."""

    def __init__(self, count: int) -> None:
        super().__init__()
        self.look = nn.Sequential(
            nn.Conv2d(count, count, 5, 1, 2, groups=count, bias=False),
            nn.BatchNorm2d(count),
            nn.Conv2d(count, count, 1, bias=False),
            nn.BatchNorm2d(count),
        )

    def forward(self, x: Tensor) -> Tensor:
        return torch.relu(x + self.look(x))


class SceneNet(nn.Module):
    """(N, 3, 320, 320) in -1..1 -> (N, 4 * MAPS, 80, 80) logits: each cell's four quarters, for each map."""

    def __init__(self) -> None:
        super().__init__()
        self.fourth = nn.Sequential(_conv(3, 16, 2), _conv(16, 32, 2), _conv(32, 32))
        self.eighth = nn.Sequential(_conv(32, 40, 2), _conv(40, 40))
        self.sixteenth = nn.Sequential(_conv(40, 64, 2), _conv(64, 64), Wide(64), Wide(64))
        down = nn.Conv2d(64, 64, 3, 2, 1, groups=64, bias=False)
        self.last = nn.Sequential(down, _conv(64, 96, side=1), *(Wide(96) for _ in range(4)))
        self.to_sixteenth, self.join_sixteenth = nn.Conv2d(96, 64, 1), _conv(64, 64)
        self.to_eighth, self.join_eighth = nn.Conv2d(64, 40, 1), _conv(40, 40)
        self.to_fourth = nn.Conv2d(40, 32, 1)
        self.head = nn.Sequential(_conv(32, 32), nn.Conv2d(32, 4 * MAPS, 3, 1, 1))
        self.twice = nn.Upsample(scale_factor=2, mode="nearest")

    def forward(self, x: Tensor) -> Tensor:
        fourth = self.fourth(x)
        eighth = self.eighth(fourth)
        sixteenth = self.sixteenth(eighth)
        last = self.last(sixteenth)
        up = self.join_sixteenth(sixteenth + self.twice(self.to_sixteenth(last)))
        up = self.join_eighth(eighth + self.twice(self.to_eighth(up)))
        logits: Tensor = self.head(fourth + self.twice(self.to_fourth(up)))
        return logits


def losses_of(logits: Tensor, wanted: Tensor) -> Tensor:
    """(N,) cross entropy, heavier at the rims, and one less the overlap, which small squares need."""
    maps = functional.pixel_shuffle(logits, 2)
    near = functional.max_pool2d(wanted, 5, 1, 2) + functional.max_pool2d(-wanted, 5, 1, 2)
    entropy = functional.binary_cross_entropy_with_logits(maps, wanted, reduction="none")
    chance = torch.sigmoid(maps)
    both = (chance * wanted).sum(dim=(2, 3))
    either = (chance + wanted).sum(dim=(2, 3))
    overlap = (2 * both + 20) / (either + 20)
    return (entropy * (1 + 3 * near)).mean(dim=(1, 2, 3)) + 0.2 * (1 - overlap).mean(dim=1)


AVERAGE = 0.995  # the weights that are kept are a running mean over some 200 steps
KEEP_EVERY = 200  # steps
RATE = 4e-3  # the highest, reached after a seventh of the steps


def train(samples: Samples, steps: int, batch: int, seed: int, out: Path, start: Path | None) -> None:
    """Learn, and write the network to `out` now and then."""
    torch.manual_seed(seed)
    torch.set_num_threads(1)
    net = SceneNet().to(memory_format=torch.channels_last)
    if start is not None:
        net.load_state_dict(torch.load(start))
    mean = torch.optim.swa_utils.AveragedModel(
        net, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(AVERAGE), use_buffers=True
    )
    best = torch.optim.AdamW(net.parameters(), lr=RATE, weight_decay=1e-3)
    plan = torch.optim.lr_scheduler.OneCycleLR(best, RATE, total_steps=steps, pct_start=0.15)
    begun, lately = time.perf_counter(), []
    for step in range(steps):
        pictures, maps = samples.batch(batch)
        inputs = torch.from_numpy(pictures).to(memory_format=torch.channels_last)
        with torch.autocast("cpu", torch.bfloat16):
            logits = net(inputs)
        losses = losses_of(logits.float(), torch.from_numpy(maps))
        loss = losses.mean()
        samples.learnt(losses.detach().numpy())
        best.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        best.step()
        plan.step()
        mean.update_parameters(net)
        lately.append(float(loss.detach()))
        if step % 100 == 99:
            print(f"{step + 1}/{steps} {np.mean(lately):.4f} {time.perf_counter() - begun:.0f} s", flush=True)
            lately.clear()
        if step % KEEP_EVERY == KEEP_EVERY - 1 or step == steps - 1:
            export(copy.deepcopy(mean.module), out)
            torch.save(mean.module.state_dict(), out.with_suffix(".pt"))


def export(net: SceneNet, out: Path) -> None:
    net = net.to(memory_format=torch.contiguous_format).eval()
    torch.onnx.export(
        net,
        (torch.zeros(1, 3, SIDE, SIDE),),
        str(out),
        input_names=["photo"],
        output_names=["maps"],
        opset_version=12,
        dynamo=False,
    )


def check(out: Path, samples: Samples, count: int) -> None:
    """Mean overlap of the maps with the truth as OpenCV runs the network, over fresh samples."""
    net = cv2.dnn.readNetFromONNX(str(out))
    overlaps: list[list[float]] = [[], []]
    for _ in range(count):
        pictures, maps = samples.batch(1)
        net.setInput(pictures)
        logits = net.forward().reshape(MAPS, 2, 2, SIDE // 4, SIDE // 4)
        found = logits.transpose(0, 3, 1, 4, 2).reshape(MAPS, SIDE // 2, SIDE // 2) > 0
        for k in range(MAPS):
            wanted = maps[0, k] > 0.5
            if wanted.any():
                overlaps[k].append(float((found[k] & wanted).sum() / (found[k] | wanted).sum()))
    for name, some in zip(("card", "square"), overlaps, strict=True):
        low = np.percentile(some, 5)
        print(f"{name}: overlap {np.median(some):.3f}, 5 % below {low:.3f}; {out.stat().st_size} bytes")


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument(
        "--kept", type=Path, default=Path("first_look.npz"), help="the reduced photos, made once"
    )
    parser.add_argument("--out", type=Path, default=Path("vision/reading/card/first_look.onnx"))
    parser.add_argument("--start", type=Path, help="the .pt of an earlier run to go on from")
    parser.add_argument("--steps", type=int, default=3600)
    parser.add_argument("--batch", type=int, default=16)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    cv2.setNumThreads(1)
    if not options.kept.exists():
        keep_small(options.folders, options.kept)
    train(
        Samples(options.kept, options.seed),
        options.steps,
        options.batch,
        options.seed,
        options.out,
        options.start,
    )
    check(options.out, Samples(options.kept, options.seed + 1), 200)


if __name__ == "__main__":
    main()
