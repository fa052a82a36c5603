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

async function draw(place) {
  const figure = JSON.parse(document.getElementById(place.dataset.chart).textContent);
  place.replaceChildren();
  place.style.minWidth = `${figure.layout.meta?.least_width ?? 0}px`;
  await window.Plotly.newPlot(place, figure.data, figure.layout, OPTIONS);
  place.dataset.drawn = "";
}

// The printer's page has a width of its own, and no script hears of it: charts are drawn for a page on its side.
const PRINTED_PX = 960;

function fit(width) {
  for (const place of document.querySelectorAll("[data-drawn]")) {
    window.Plotly.relayout(place, width ? { width, autosize: false } : { width: null, autosize: true });
  }
}

addEventListener("beforeprint", () => fit(PRINTED_PX));
addEventListener("afterprint", () => fit(null));

const places = document.querySelectorAll("[data-chart]");
if (places.length) {
  load(places[0].dataset.script)
    .then(() => Promise.all([...places].map(draw)))
    .catch(() => places.forEach((place) => (place.textContent = "The chart could not be drawn; its table says the same.")));
}
