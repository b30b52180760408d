// A scale that speaks: beside every field for a mass a button that writes the reading into it, and while pouring the
// reading large and live, a steady one in the field already. The laptop is asked with a request that it holds until
// there is news. Nothing is sent to it, and what was typed by hand is left alone.
"use strict";

(() => {
    const ADDRESS = document.currentScript.dataset.address;
    const REST_MS = { pouring: 250, elsewhere: 1000 };
    const AGAIN_MS = 5000;
    const PATIENCE_MS = 40000;
    const MOVING_MS = 2000;
    const AGES_MS = 5000;
    const FRESH_S = 10; // a reading as old as that goes into no field by itself
    const OLD_S = 120; // and one as old as that into none at all
    const WEIGHED_AS = { gross: "gross: all that lies on it", net: "net: without what was tared" };
    const fields = [...document.querySelectorAll("input[data-mass=g]")];
    if (!fields.length) return;

    const pouring = document.querySelector(".pouring");
    const figure = pouring && pouring.querySelector("input[name=reading]");
    let said = null;
    let saidAt = 0;
    let known = "";
    let lost = "";
    let heardAt = 0; // when the last reading came

    function made(tag, names, parent) {
        const one = document.createElement(tag);
        one.className = names;
        parent.append(one);
        return one;
    }

    // One line below each field: the button, what the scale says, and where the number in the field came from.
    const lines = fields.map((field) => {
        const line = document.createElement("div");
        line.className = "from-scale";
        (field.closest(".typed") || field).after(line);
        const button = made("button", "other take", line);
        button.type = "button";
        const words = made("p", "quiet", line);
        const origin = made("p", "origin", line);
        origin.setAttribute("role", "status");
        const label = field.labels[0] ? field.labels[0].textContent.trim() : "";
        button.addEventListener("click", () => {
            write(field, said.reading.digits);
            origin.textContent = cameWith(said.reading);
            if (field === figure) {
                filled = said.reading.digits;
                isByHand = false;
                show();
            }
        });
        field.addEventListener("input", (event) => {
            if (event.isTrusted) origin.textContent = "";
        });
        return { field, button, words, origin, label };
    });

    function cameWith(reading) {
        const meant = WEIGHED_AS[reading.weighed_as];
        return `${reading.digits} g from the scale at ${clock(Date.now())}${meant ? ` (${meant})` : ""}`;
    }

    // 20:55:51, as all times of the program.
    function clock(at) {
        return new Date(at).toTimeString().slice(0, 8);
    }

    // As if it was typed.
    function write(field, text) {
        field.value = text;
        field.dispatchEvent(new Event("input", { bubbles: true }));
        field.dispatchEvent(new Event("change", { bubbles: true }));
    }

    function ageOf(reading) {
        return reading.age_s + (Date.now() - saidAt) / 1000;
    }

    function ago(seconds) {
        return seconds < 60 ? `${Math.round(seconds)} s ago` : `${Math.round(seconds / 60)} min ago`;
    }

    function wordsOf(reading) {
        const line = said.line && said.line.text ? `The scale printed “${said.line.text}”: ${said.line.why}. Not taken.` : "";
        if (!reading) return line || "Nothing came from the scale yet.";
        const age = ageOf(reading);
        return [
            reading.is_steady ? "" : "Not steady.",
            WEIGHED_AS[reading.weighed_as] ? `The scale says ${WEIGHED_AS[reading.weighed_as]}.` : "",
            age >= FRESH_S ? `It came ${ago(age)}.` : "",
            line,
        ].filter(Boolean).join(" ");
    }

    function show() {
        const reading = lost || said.trouble ? null : said.reading;
        const words = lost || said.trouble || wordsOf(reading);
        const isOld = reading && ageOf(reading) >= OLD_S;
        if (reading) heardAt = Date.now() - ageOf(reading) * 1000;
        lines.forEach(({ field, button, words: line, label }) => {
            const isBelow = reading && reading.mass_g < 0 && !("signed" in field.dataset);
            button.hidden = !reading || (field === figure && !isByHand); // else the field fills itself
            if (reading) {
                const can = reading.is_steady && !isOld && !isBelow;
                button.textContent = can ? `Take ${reading.digits} g` : `${reading.digits} g`;
                button.disabled = !can;
                button.setAttribute("aria-label", label ? `${button.textContent}: ${label}` : button.textContent);
            }
            line.textContent = isBelow ? `${words} Below zero: zero the scale.`.trim() : words;
        });
        if (figure) showLive(reading, isOld);
    }

    // Pouring: the reading from a metre away, and the field that fills itself.
    const numbers = figure ? pouring.dataset : {};
    const live = figure ? made("p", "shown live", pouring) : null;
    const number = live && made("strong", "", live);
    const toGo = pouring && pouring.querySelector(".to-go");
    let filled = null; // what is in the field and came from the scale
    let isByHand = false;
    let isFirst = true;
    let moving = 0;
    if (figure) {
        live.hidden = true;
        made("span", "unit", live).textContent = "g";
        pouring.insertBefore(live, figure.closest(".field"));
        toGo?.setAttribute("aria-live", "off"); // it would speak ten times a second
        isByHand = figure.value.trim() !== "";
        figure.addEventListener("input", (event) => {
            if (!event.isTrusted) return;
            isByHand = figure.value.trim() !== "";
            filled = null;
            if (said) show();
        });
    }

    // Whether a mass can be the diff with oil going in, or the oil alone: else it was lifted off, or something else lies
    // there.
    function isOfPouring(mass) {
        if (!("stop" in numbers)) return mass > 0;
        return mass >= Number(numbers.dryLessNoise) || (mass > 0 && mass <= Number(numbers.mostZeroed));
    }

    // Nothing is heard any more: the large figures themselves say so, or oil is poured by a number that stands still.
    function showGone() {
        live.hidden = !heardAt;
        number.textContent = "";
        live.classList.add("gone");
        live.classList.remove("not-steady");
        live.querySelector(".unit").textContent = `Scale not heard since ${clock(heardAt)}`;
        if (heardAt && !isByHand && toGo) toGo.textContent = "";
        stay();
    }

    function showLive(reading, isOld) {
        if (!reading || isOld) {
            showGone();
            return;
        }
        const age = ageOf(reading);
        const isLate = age >= FRESH_S;
        live.hidden = false;
        live.classList.remove("gone");
        number.textContent = reading.digits;
        live.classList.toggle("not-steady", !reading.is_steady || isLate);
        live.querySelector(".unit").textContent = ["g", reading.is_steady ? "" : "not steady", isLate ? ago(age) : ""]
            .filter(Boolean).join(", ");
        // What was stored a moment ago and came back with a question is still what the scale shows.
        if (isFirst && reading.is_steady && Number(figure.value) === reading.mass_g) {
            isByHand = false;
            filled = figure.value;
        }
        isFirst = false;
        if (isByHand || !isOfPouring(reading.mass_g)) {
            stay();
            return;
        }
        pouring.dispatchEvent(new CustomEvent("scale-reading", {
            detail: { mass: reading.mass_g, isSteady: reading.is_steady && !isLate },
        }));
        if (reading.is_steady) fill(reading);
        else if (filled !== null && reading.digits !== filled) moving ||= setTimeout(empty, MOVING_MS);
        else stay();
    }

    function fill(reading) {
        stay();
        const isStored = figure.placeholder.trim() !== "" && Number(figure.placeholder) === reading.mass_g;
        const text = isStored ? "" : reading.digits;
        if (ageOf(reading) >= FRESH_S || figure.value === text) return;
        filled = text || null;
        figure.value = text;
        if (text) write(figure, text);
        lines.find((one) => one.field === figure).origin.textContent = isStored ? "" : cameWith(reading);
    }

    // More oil goes in: what the field holds is not what the scale shows any more.
    function empty() {
        moving = 0;
        filled = null;
        figure.value = "";
        lines.find((one) => one.field === figure).origin.textContent = "";
    }

    function stay() {
        clearTimeout(moving);
        moving = 0;
    }

    const rest = (ms) => new Promise((go) => setTimeout(go, ms));
    const seen = () => new Promise((go) => {
        if (!document.hidden) go();
        else document.addEventListener("visibilitychange", () => go(), { once: true });
    });

    async function ask() {
        const stop = new AbortController();
        const timer = setTimeout(() => stop.abort(), PATIENCE_MS);
        try {
            const answer = await fetch(`${ADDRESS}?known=${known}`, { cache: "no-store", signal: stop.signal });
            if (!answer.ok) return answer.status;
            said = await answer.json();
            return 200;
        } finally {
            clearTimeout(timer);
        }
    }

    async function listen() {
        for (;;) {
            await seen();
            let status = 0;
            try {
                status = await ask();
            } catch {
                // It did not answer; it is asked again.
            }
            if (status === 200) {
                saidAt = Date.now();
                known = said.number;
                lost = "";
            } else {
                said ||= {};
                known = "";
                lost = status === 0 ? "The laptop does not answer, so nothing comes from the scale."
                    : "Nothing comes from the scale any more: load this page again.";
            }
            show();
            if (status && status !== 200 && status < 500) return;
            await rest(status === 200 ? REST_MS[figure ? "pouring" : "elsewhere"] : AGAIN_MS);
        }
    }

    setInterval(() => said && show(), AGES_MS);
    listen();
})();
