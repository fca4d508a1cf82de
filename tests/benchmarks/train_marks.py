"""python -m tests.benchmarks.train_marks cards OUT --count N --seed S [--rare | --littered] [--jobs J]
   python -m tests.benchmarks.train_marks learn CARDS --out vision/reading/marks/marks.onnx
   python -m tests.benchmarks.train_marks report CARDS [--net OTHER.onnx]

Learn to tell pencil marks apart from simulated cards: `cards` photographs and straightens them with the
simulator's own geometry, `learn` fits a network, `report` judges one on cards that it was not taught. Learning
needs `torch` and `onnx`, which nothing else here does: pip install torch onnx.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.mark_cards import KINDS, load_card, make_cards
from tests.benchmarks.other_hand import vary
from vision.reading.marks.likeness import CHANNELS, WEIGHTS_FILE, maps_of

Bytes = NDArray[np.uint8]

# What a miss costs against a false alarm, by channel: small marks fill little of the card.
WEIGHT = {"light": 3.0, "crossed": 2.0, "battery": 1.0, "window": 1.0, "line": 1.5}
DICE_SHARE = 0.2  # chosen: of the overlap's loss beside the cross entropy's
MIX = (0.6, 0.2, 0.2)  # chosen: shares of crops from usual, rare and littered cards
BATCH = 24
RATE, LEAST_RATE = (
    2e-3,
    1e-5,
)  # chosen: falls as a cosine's half, so that no mean of weights is needed at the end
DECAY = 1e-4
SMALL_DOT_PX = 9  # chosen: of the map, the area of a dot of 1.7 mm
STEPS_UP = 200  # the rate rises over so many steps


def build() -> Any:
    """The network: four halvings and back, 3 x 3 convolutions, the ways across added up."""
    import torch
    from torch import nn

    def block(into: int, out: int) -> nn.Sequential:
        return nn.Sequential(
            nn.Conv2d(into, out, 3, padding=1, bias=False), nn.BatchNorm2d(out), nn.ReLU(inplace=True)
        )

    class Net(nn.Module):
        def __init__(self) -> None:
            super().__init__()
            widths = (20, 32, 64, 80, 80)
            self.first = nn.Sequential(nn.Conv2d(3, 20, 4, stride=2, padding=1), nn.ReLU(inplace=True))
            self.down = nn.ModuleList([block(20, 20)])
            self.up, self.across = nn.ModuleList(), nn.ModuleList()
            for narrow, wide in pairwise(widths):
                self.down.append(nn.Sequential(nn.MaxPool2d(2), block(narrow, wide), block(wide, wide)))
                self.across.append(nn.Conv2d(wide, narrow, 1))
                self.up.append(block(narrow, narrow))
            self.last = nn.Conv2d(widths[0], len(CHANNELS), 1)

        def forward(self, x: Any) -> Any:
            x = self.first(x * (1 / 64.0) - 2.0)
            kept = []
            for down in self.down:
                x = down(x)
                kept.append(x)
            for k in range(len(self.up) - 1, -1, -1):
                x = nn.functional.interpolate(self.across[k](x), scale_factor=2.0, mode="nearest")
                x = self.up[k](x + kept[k])
            return self.last(x)

    torch.manual_seed(1)
    return Net()


class Crops:
    """Crops without end for one worker of several: each draws from dice of its own."""

    def __init__(self, cards: dict[str, list[tuple[Bytes, Bytes]]], seed: int, batch: int) -> None:
        self.cards, self.seed, self.batch = cards, seed, batch

    def stream(self, worker: int) -> Iterator[tuple[Bytes, Bytes]]:
        """(batch, CROP, CROP, 3) and (batch, CROP / STRIDE, CROP / STRIDE), one batch after another."""
        cv2.setNumThreads(1)
        rng = np.random.default_rng([self.seed, worker])
        kinds = [kind for kind in KINDS if self.cards[kind]]
        shares = np.array([MIX[KINDS.index(kind)] for kind in kinds])
        while True:
            items = []
            for kind in rng.choice(kinds, self.batch, p=shares / shares.sum()):
                own = self.cards[str(kind)]
                items.append(vary(*own[int(rng.integers(len(own)))], rng))
            yield np.stack([seen for seen, _ in items]), np.stack([bits for _, bits in items])


def batches(crops: Crops, workers: int) -> Iterator[tuple[Any, Any]]:
    """The crops' batches as tensors, made by several processes."""
    import torch

    class Endless(torch.utils.data.IterableDataset[Any]):
        def __iter__(self) -> Iterator[tuple[Bytes, Bytes]]:
            info = torch.utils.data.get_worker_info()
            return crops.stream(info.id if info else 0)

    loader = torch.utils.data.DataLoader(
        Endless(), batch_size=None, num_workers=workers, pin_memory=torch.cuda.is_available()
    )
    yield from loader


def learn(folder: Path, out: Path, crops: int, workers: int, minutes: float, seed: int) -> None:
    """Fit the network and write it as `out` for OpenCV, its weights beside it as .pt."""
    import torch

    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(seed)
    with ThreadPoolExecutor() as pool:
        cards = {kind: list(pool.map(load_card, sorted(folder.glob(f"{kind}-*.npz")))) for kind in KINDS}
    print({kind: len(own) for kind, own in cards.items()}, flush=True)
    net = build().to(device).train()
    teacher = torch.optim.AdamW(net.parameters(), lr=RATE, weight_decay=DECAY)
    weights = torch.tensor([WEIGHT[name] for name in CHANNELS], device=device).view(1, -1, 1, 1)
    channels = torch.arange(len(CHANNELS), device=device).view(1, -1, 1, 1)

    def loss_of(logits: Any, truth: Any) -> Any:
        each = torch.nn.functional.binary_cross_entropy_with_logits(
            logits, truth, pos_weight=weights, reduction="none"
        )
        share = torch.sigmoid(logits)
        both = (share * truth).sum((0, 2, 3))
        dice = 1 - (2 * both + 1) / (share.sum((0, 2, 3)) + truth.sum((0, 2, 3)) + 1)
        return (each.mean((0, 2, 3)) * weights.view(-1)).sum() + DICE_SHARE * dice.sum()

    begun, done, steps = time.perf_counter(), 0, 0
    for seen, bits in batches(Crops(cards, seed, BATCH), workers):
        gone = (time.perf_counter() - begun) / 60
        share = max(done / crops, gone / minutes)
        if share >= 1:
            break
        for group in teacher.param_groups:
            rise = min(1.0, (steps + 1) / STEPS_UP)
            group["lr"] = RATE * rise * 0.5 * (1 + np.cos(np.pi * share)) + LEAST_RATE
        picture = seen.to(device, non_blocking=True).permute(0, 3, 1, 2).float()
        truth = ((bits.to(device, non_blocking=True)[:, None].int() >> channels) & 1).float()
        loss = loss_of(net(picture), truth)
        teacher.zero_grad()
        loss.backward()
        teacher.step()
        done, steps = done + BATCH, steps + 1
        if steps % 100 == 1:
            print(f"{gone:.1f} min, {done} crops, loss {float(loss.detach()):.4f}", flush=True)
    net.cpu().eval()
    torch.save(net.state_dict(), out.with_suffix(".pt"))
    export(net, out)


def export(net: Any, out: Path) -> None:
    """Write the network for OpenCV: any size that is a multiple of 32, probabilities out."""
    import torch

    class Ready(torch.nn.Module):
        def __init__(self) -> None:
            super().__init__()
            self.net = net

        def forward(self, x: Any) -> Any:
            return torch.sigmoid(self.net(x))

    sample = torch.zeros(1, 3, 448, 448)
    torch.onnx.export(
        Ready().eval(),
        (sample,),
        str(out),
        input_names=["card"],
        output_names=["maps"],
        opset_version=13,
        dynamo=False,
        dynamic_axes={"card": {2: "h", 3: "w"}, "maps": {2: "h", 3: "w"}},
    )


def report(folder: Path, net: Path) -> list[str]:
    """What a network makes of whole cards, a line for each kind of them: for each mark, how far its map above a half
    and the true one overlap, of both together; lights whose middle it misses, and patches as large as a small dot
    that it takes for lights where there is none."""
    lines = []
    for kind in KINDS:
        paths = sorted(folder.glob(f"{kind}-*.npz"))
        both, either = np.zeros(len(CHANNELS)), np.zeros(len(CHANNELS))
        missed = lights = invented = 0
        for path in paths:
            seen, bits = load_card(path)
            maps = maps_of(seen, net) > 0.5
            truth = (bits[None] >> np.arange(len(CHANNELS))[:, None, None]) & 1 > 0
            both += (maps & truth).sum((1, 2))
            either += (maps | truth).sum((1, 2))
            count, _, _, middles = cv2.connectedComponentsWithStats(truth[0].astype(np.uint8))
            at = np.rint(middles[1:]).astype(int)
            lights += count - 1
            missed += int((~maps[0][at[:, 1], at[:, 0]]).sum())
            count, marked, sizes, _ = cv2.connectedComponentsWithStats(maps[0].astype(np.uint8))
            true = set(np.unique(marked[truth[0]]))
            invented += sum(
                1 for k in range(1, count) if k not in true and sizes[k, cv2.CC_STAT_AREA] >= SMALL_DOT_PX
            )
        if paths:
            overlap = dict(zip(CHANNELS, np.round(both / np.maximum(either, 1), 3).tolist(), strict=True))
            lines.append(
                f"{kind}: {len(paths)} cards, overlap {overlap}, {missed} of {lights} lights missed, "
                f"{invented} invented"
            )
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    steps = parser.add_subparsers(dest="step", required=True)
    cards = steps.add_parser("cards")
    cards.add_argument("out", type=Path)
    cards.add_argument("--count", type=int, default=2000)
    cards.add_argument("--first", type=int, default=0)
    cards.add_argument("--seed", type=int, default=7000)
    drawn = cards.add_mutually_exclusive_group()
    drawn.add_argument("--rare", action="store_true")
    drawn.add_argument("--littered", action="store_true")
    cards.add_argument("--jobs", type=int, default=1)
    fit = steps.add_parser("learn")
    fit.add_argument("cards", type=Path)
    fit.add_argument("--out", type=Path, required=True)
    fit.add_argument("--crops", type=int, default=260_000)
    fit.add_argument("--workers", type=int, default=1)
    fit.add_argument("--minutes", type=float, default=1e9, help="end after this long")
    fit.add_argument("--seed", type=int, default=1)
    judge = steps.add_parser("report")
    judge.add_argument("cards", type=Path)
    judge.add_argument("--net", type=Path, default=WEIGHTS_FILE)
    options = parser.parse_args()
    if options.step == "cards":
        kind = "rare" if options.rare else "littered" if options.littered else "usual"
        numbers = range(options.first, options.first + options.count)
        make_cards(options.out, options.seed, numbers, kind, options.jobs)
    elif options.step == "report":
        print("\n".join(report(options.cards, options.net)))
    else:
        learn(options.cards, options.out, options.crops, options.workers, options.minutes, options.seed)


if __name__ == "__main__":
    main()
