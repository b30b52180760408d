// Draws the charts of a page with the Vega that the server brings along: interpreted, so that no code is made from
// text, in the colours of the style sheet, and again when the system turns light or dark.
"use strict";

function chartConfig() {
    const style = getComputedStyle(document.documentElement);
    const colour = (name) => style.getPropertyValue(`--${name}`).trim();
    const ink = colour("ink"), quiet = colour("quiet"), line = colour("line"), act = colour("act");
    const text = { labelColor: quiet, titleColor: ink, labelFontSize: 13, titleFontSize: 14, titleFontWeight: "normal" };
    return {
        background: "transparent",
        font: getComputedStyle(document.body).fontFamily,
        aria: false,
        view: { stroke: null },
        axis: { ...text, gridColor: line, domainColor: quiet, tickColor: quiet, labelOverlap: true, tickCount: 8 },
        legend: { ...text, orient: "bottom", symbolStrokeColor: ink, symbolFillColor: "transparent", columns: 2 },
        header: { ...text },
        mark: { color: act, tooltip: false },
        line: { color: act },
        area: { color: act },
        rule: { color: ink },
        point: { color: ink, fill: ink },
        text: { color: ink, fontSize: 13 },
    };
}

function draw(place) {
    const spec = JSON.parse(place.parentElement.querySelector("script.chart-spec").textContent);
    if (!spec.facet) {
        spec.width = spec.width || "container";
        spec.height = spec.height || 300;
        spec.autosize = { type: "fit-x", contains: "padding" };
    } else {
        spec.spec.width = Math.max(180, Math.min(spec.spec.width || 520, place.clientWidth - (spec.facet.row ? 160 : 96)));
    }
    const drawing = document.createElement("div");
    drawing.className = "drawing";
    drawing.setAttribute("aria-hidden", "true");
    place.replaceChildren(drawing);
    return vegaEmbed(drawing, spec, {
        mode: "vega-lite", ast: true, actions: false, renderer: "svg", tooltip: false, config: chartConfig(),
    }).then(() => {
        // The place around says in words what it shows, and the table beside has the figures: no part speaks twice.
        drawing.removeAttribute("role");
        drawing.setAttribute("aria-hidden", "true");
        place.setAttribute("data-drawn", "yes");
    });
}

function drawAll() {
    document.querySelectorAll(".chart-place").forEach(draw);
}

drawAll();
window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", drawAll);
