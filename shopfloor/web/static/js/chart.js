// Draws each figure of the page with Plotly. The figure is JSON beside its place; the table on the page says the same.

const OPTIONS = { responsive: true, displayModeBar: false, scrollZoom: false, doubleClick: false };

function load(address) {
  return new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = address;
    script.addEventListener("load", resolve);
    script.addEventListener("error", reject);
    document.head.append(script);
  });
}

const tablet = matchMedia("(prefers-color-scheme: dark)");

function isNight() {
  const { look } = document.documentElement.dataset;
  return look === "tablet" ? tablet.matches : look === "dark";
}

// The figure in its light or dark colours: each colour is a value of its own.
function figureOf(place, inNight) {
  const text = document.getElementById(place.dataset.chart).textContent;
  const colours = JSON.parse(text).layout.meta.night;
  return JSON.parse(text, (key, value) => (inNight && Object.hasOwn(colours, value) ? colours[value] : value));
}

async function draw(place) {
  const { data, layout } = figureOf(place, isNight());
  place.replaceChildren();
  place.style.minWidth = `${layout.meta.least_width ?? 0}px`;
  await window.Plotly.newPlot(place, data, layout, OPTIONS);
  place.dataset.drawn = "";
}

// Paper is white and has a width of its own, which no script can read: charts are drawn for a landscape page.
const PRINTED_PX = 960;

function drawAgain(inNight, size) {
  for (const place of document.querySelectorAll("[data-drawn]")) {
    const { data, layout } = figureOf(place, inNight);
    window.Plotly.react(place, data, { ...layout, ...size }, OPTIONS);
  }
}

addEventListener("beforeprint", () => drawAgain(false, { width: PRINTED_PX, autosize: false }));
addEventListener("afterprint", () => drawAgain(isNight(), { autosize: true }));
tablet.addEventListener("change", () => drawAgain(isNight(), { autosize: true }));

const places = document.querySelectorAll("[data-chart]");
if (places.length) {
  load(places[0].dataset.script)
    .then(() => Promise.all([...places].map(draw)))
    .catch(() => places.forEach((place) => (place.textContent = place.dataset.failed)));
}
