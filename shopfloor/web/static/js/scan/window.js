// The window in which a code is scanned, typed or read by the camera, and in which a misread one is reported.
import { say } from "../words.js";
import { button, element } from "../elements.js";
import { ask } from "../question.js";
import { canRead, readWithCamera } from "./camera.js";
import { KINDS, scanned } from "./labels.js";

/**
 * Ask for a code; resolves with the text, with the thing ({kind, code}) that was touched, or with null.
 *
 * @param {string | null} said what is wrong with what was read before
 * @param {{kind: string, code: string}[]} near what may have been meant
 */
export async function askCode(said = null, near = []) {
  const groups = [{ heading: say("Is it one of these?"), tiles: near.map(tile) }];
  return ask(say("Scan or type a code"), groups, say("Code under the square"), said, await camera());
}

function tile(thing) {
  const name = KINDS[thing.kind];
  return { title: `${name[0].toUpperCase()}${name.slice(1)} ${thing.code}`, lines: [say("its label reads {text}", { text: scanned(thing) })], value: thing };
}

// A browser that cannot read codes says so: nobody should look for the button.
async function camera() {
  if (!(await canRead())) {
    return () => element("p", { class: "evidence" }, say("This browser does not read codes with the camera here: use a scanner, or type the code."));
  }
  return (answer, closed) => {
    const video = element("video", { class: "camera", playsinline: true, muted: true, hidden: true });
    const fault = element("p", { class: "field-error", role: "status" });
    const way = button(say("Read with the camera"), async () => {
      fault.textContent = "";
      way.hidden = true;
      video.hidden = false;
      try {
        const text = await readWithCamera(video, closed);
        if (text !== null) answer(text);
      } catch (error) {
        fault.textContent = say("The camera cannot be used ({why}): allow it for this page, or type the code.", { why: error.name });
      }
      video.hidden = true;
      way.hidden = false;
    });
    return element("div", { class: "camera-way" }, video, way, fault);
  };
}
