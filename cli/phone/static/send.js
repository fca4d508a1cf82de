// Send the photo as soon as it is chosen, tell how far it is, then wait for the reading.
import { tell } from "./page.js";

const ASK_EVERY_MS = 400;

export function watchSending(form) {
  const show = form.querySelector(".progress");
  const bar = show.querySelector("progress");
  const words = show.querySelector(".words");
  form.addEventListener("change", (event) => {
    const file = event.target.type === "file" && event.target.files[0];
    if (file) start(event.target, file);
  });

  function start(input, file) {
    show.hidden = false;
    bar.removeAttribute("value");
    say("Sending the photo");
    show.scrollIntoView({ block: "nearest" });
    if (file.size > Number(form.dataset.largest)) {
      stop(input, "This photo is too large to be sent. Take it with the camera's usual settings.");
      return;
    }
    const fields = new FormData();
    fields.set("name", form.querySelector("[name=name]")?.value || "");
    fields.set("photo", file, file.name);
    const request = new XMLHttpRequest();
    request.open("POST", form.action);
    request.setRequestHeader("accept", "application/json");
    request.upload.onprogress = (event) => {
      if (!event.lengthComputable) return;
      bar.value = (event.loaded / event.total) * 100;
      if (event.loaded === event.total) bar.removeAttribute("value");
    };
    request.onerror = () => stop(input, "The photo did not arrive. Is the phone still in the same network? Send it again.");
    request.onload = () => {
      let answer = {};
      try {
        answer = JSON.parse(request.responseText);
      } catch {
        answer = { sorry: request.responseText.slice(0, 300) || "The computer did not take the photo. Send it again." };
      }
      if (answer.card) wait(answer);
      else stop(input, answer.sorry);
    };
    request.send(fields);
  }

  async function wait(card) {
    bar.removeAttribute("value");
    say("Reading your card");
    let missed = 0;
    for (;;) {
      await new Promise((done) => setTimeout(done, ASK_EVERY_MS));
      try {
        const answer = await (await fetch(card.state, { headers: { accept: "application/json" } })).json();
        missed = 0;
        if (answer.state !== "waiting") break;
        say(answer.words);
      } catch {
        if (++missed === 5) say("The computer doesn't answer. Is the page still running there? Your photo has arrived; I keep asking.");
      }
    }
    location.href = card.card;
  }

  function say(text) {
    if (words.textContent === text) return;
    words.textContent = text;
    tell(text, 0);
  }

  function stop(input, text) {
    show.hidden = true;
    input.value = "";
    tell(text, 15);
  }
}
