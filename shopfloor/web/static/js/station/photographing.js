// Takes photographs of a broken tap: scaled down as they are taken, kept with the entry once it is saved.
import { button, element } from "../elements.js";
import { newId } from "../outbox/ids.js";
import { say, sayCount } from "../words.js";

const QUALITIES = [0.85, 0.75, 0.6, 0.45];
const SHRINKS = 0.75;
const SMALL_PX = 240;
const SCALING_TIMEOUT_MS = 10_000;
let taken = [];
let scaling = Promise.resolve();

/** The photographs of this batch; waits a few seconds for one that is still being scaled down. */
export async function takenPhotographs() {
  await Promise.race([scaling, new Promise((resolve) => setTimeout(resolve, SCALING_TIMEOUT_MS))]);
  return taken.map(({ id, bytes }) => ({ id, bytes }));
}

/** Offer to take photographs; without scripts they could not be scaled down. */
export function startPhotographing(form) {
  const place = form.querySelector("[data-photographs]");
  if (!place) return;
  const input = place.querySelector("input");
  const limits = { most: Number(place.dataset.most), side: Number(place.dataset.side), largest: Number(place.dataset.largest) };
  const show = (fault = "") => {
    place.querySelector("[data-photographs-list]").replaceChildren(...taken.map((one, at) => line(one, at + 1, show)));
    place.querySelector("[data-photographs-fault]").textContent = fault;
    place.querySelector("[data-photographs-says]").textContent = taken.length ? sayCount(taken.length, "{n} photograph goes with this batch.", "{n} photographs go with this batch.") : "";
    input.closest("label").hidden = taken.length >= limits.most;
  };
  const take = async (file) => {
    place.querySelector("[data-photographs-says]").textContent = say("Making it smaller ...");
    try {
      taken.push({ id: newId(), ...(await scaledDown(file, limits)) });
      show();
    } catch {
      show(say("This picture cannot be used here. Take it with the tablet's camera."));
    }
  };
  input.addEventListener("change", () => {
    const [file] = input.files;
    if (file) scaling = scaling.then(() => take(file));
    // The same picture may be chosen again after it was removed.
    input.value = "";
  });
  form.addEventListener("renewed", () => {
    taken = [];
    show();
  });
  show();
}

function line(photograph, number, show) {
  const remove = button(say("Remove"), () => {
    taken = taken.filter((one) => one !== photograph);
    show();
  });
  remove.setAttribute("aria-label", say("Remove photograph {number}", { number }));
  photograph.small.setAttribute("aria-label", say("Photograph {number}", { number }));
  return element("li", {}, photograph.small, remove);
}

// A small enough JPEG, upright and without metadata, as a canvas writes it: lower quality first, then fewer pixels.
async function scaledDown(file, { side, largest }) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  try {
    for (let longest = side; ; longest *= SHRINKS) {
      const canvas = drawn(picture, longest);
      for (const quality of QUALITIES) {
        const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", quality));
        if (blob.size <= largest) return { bytes: await blob.arrayBuffer(), small: drawn(picture, SMALL_PX, { role: "img" }) };
      }
    }
  } finally {
    picture.close();
  }
}

function drawn(picture, longest, attributes = {}) {
  const scale = Math.min(1, longest / Math.max(picture.width, picture.height));
  const [width, height] = [picture.width, picture.height].map((length) => Math.max(1, Math.round(length * scale)));
  const canvas = element("canvas", { ...attributes, width, height });
  const pen = canvas.getContext("2d");
  pen.fillStyle = "white";
  pen.fillRect(0, 0, width, height);
  pen.imageSmoothingQuality = "high";
  pen.drawImage(picture, 0, 0, width, height);
  return canvas;
}
