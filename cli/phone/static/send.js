// Send the photo as soon as it is chosen, tell how far it is, then wait for the reading.
import { tell } from "./forms.js";

const ASK_EVERY_MS = 400;
const LONG_MS = 15_000; // chosen: ten times what most photos take
const STILL_MS = 15_000; // chosen: a network that is only slow moves something within that

export function watchSending(form) {
  const show = form.querySelector(".progress");
  const bar = show.querySelector("progress");
  const words = show.querySelector(".words");
  const other = show.querySelector("[data-stop]"); // what one may do instead of waiting
  const inputs = [...form.querySelectorAll("input[type=file]")];
  for (const input of inputs) {
    input.onchange = () => chosen(input);
    chosen(input); // on a slow line a photo may be chosen before this script has come
  }

  function chosen(input) {
    if (input.files.length) start(input.files[0]);
  }

  function start(file) {
    const fields = new FormData(form);
    inputs.forEach((input) => fields.delete(input.name));
    fields.set("photo", file, file.name);
    for (const input of inputs) {
      input.value = ""; // a page that is loaded again must not send the photo again
      input.disabled = true;
    }
    show.hidden = bar.hidden = other.hidden = false;
    words.classList.remove("say");
    bar.removeAttribute("value");
    say("Sending the photo");
    other.textContent = "Stop sending";
    show.scrollIntoView({ block: "nearest" });
    if (file.size > Number(form.dataset.largest)) {
      stop("This photo is too large to be sent. Take it with the camera's usual settings.");
      return;
    }
    const request = new XMLHttpRequest();
    request.open("POST", form.action);
    request.setRequestHeader("accept", "application/json");
    let still = 0;
    const moving = () => {
      clearTimeout(still);
      still = setTimeout(() => say("The photo is on its way, but nothing has moved for a while. Is the phone still in the same network?"), STILL_MS);
    };
    moving();
    request.onloadend = () => clearTimeout(still);
    other.onclick = () => {
      request.abort();
      stop("Stopped. Choose a photo when you are ready.");
    };
    request.upload.onprogress = (event) => {
      say("Sending the photo");
      moving();
      if (!event.lengthComputable) return;
      bar.value = (event.loaded / event.total) * 100;
      if (event.loaded === event.total) bar.removeAttribute("value");
    };
    request.onerror = () => stop("The photo did not arrive. Is the phone still in the same network? Send it again.");
    request.onload = () => {
      let answer = {};
      try {
        answer = JSON.parse(request.responseText);
      } catch {
        answer = { sorry: request.responseText.slice(0, 300) || "The computer did not take the photo. Send it again." };
      }
      if (answer.card) wait(answer);
      else stop(answer.sorry);
    };
    request.send(fields);
  }

  async function wait(card) {
    bar.removeAttribute("value");
    say("Reading your card");
    other.textContent = "Photograph another meanwhile";
    other.onclick = () => (location.href = "/"); // this one is read all the same, and stands in the list
    let missed = 0;
    const since = performance.now();
    for (;;) {
      await new Promise((done) => setTimeout(done, ASK_EVERY_MS));
      try {
        const answer = await (await fetch(card.state, { headers: { accept: "application/json" } })).json();
        missed = 0;
        if (answer.state !== "waiting") break;
        const long = performance.now() - since > LONG_MS && answer.words === "Reading your card";
        say(long ? "Still reading your card. A photo that is hard to read can take a minute." : answer.words);
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

  function stop(text) {
    bar.hidden = other.hidden = true;
    words.classList.add("say");
    inputs.forEach((input) => (input.disabled = false));
    say(text); // it stays, for who looks back later
  }
}
