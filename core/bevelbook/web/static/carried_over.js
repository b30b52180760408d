// What a run takes over that is noted without the laptop: what the page was drawn with and what runs that wait have typed,
// each for as long as the laptop takes it over. For how long that is stands in the page.
"use strict";

(() => {
    const bevelbook = (window.bevelbook = window.bevelbook || {});
    const MINUTE_MS = 60000;
    const DAY_MIN = 1440;
    const WEATHER = { air_temp_c: "air", track_temp_c: "track" };

    // The day of a moment, counted from the one on which the page was drawn, by the laptop's midnight.
    function dayOf(ageing, ms) {
        return Math.floor(((ms - ageing.drawn_ms) / MINUTE_MS - ageing.day_ends_min) / DAY_MIN) + 1;
    }

    function drawnValues(ageing) {
        return new Map(Object.entries(ageing.values).map(([field, one]) => [field, {
            text: one.text,
            run: one.run,
            day: -one.days,
            ms: one.minutes === null ? null : ageing.drawn_ms - one.minutes * MINUTE_MS,
        }]));
    }

    // What a run that waits leaves to the one after it.
    function leave(found, entry, car, ageing) {
        const isSameCar = entry.car === car;
        const head = new Map(entry.head || []);
        if (head.has("venue") && head.get("venue") !== found.get("venue")?.text) {
            Object.keys(WEATHER).forEach((field) => found.delete(field));
        }
        if (isSameCar) found.delete("tyre_runs"); // more now: the laptop counts them
        if (isSameCar && head.has("tyres")) found.delete("tyres");
        head.forEach((text, field) => {
            if (ageing.of_car.includes(field) && !isSameCar) return;
            if (text === "none" && !(field in WEATHER)) found.delete(field);
            if (text === "none" || (field === "tyres" && text === "changed")) return;
            found.set(field, { text, waits: true, day: dayOf(ageing, entry.noted_ms), ms: entry.noted_ms });
        });
    }

    function isOld(one, field, ageing, at) {
        if (dayOf(ageing, at) - one.day > ageing.holds_days[field]) return true;
        const most = ageing.holds_min[field];
        return most !== undefined && (one.ms === null || at - one.ms > most * MINUTE_MS);
    }

    // By field what a run of a car takes over that is noted at a moment, after runs that wait, the first first; also what
    // has grown too old for that, which says so.
    function carriedOver(before, car, ageing, at) {
        if (!ageing) return new Map();
        const found = drawnValues(ageing);
        before.forEach((entry) => leave(found, entry, car, ageing));
        found.forEach((one, field) => {
            one.isOld = isOld(one, field, ageing, at);
        });
        return found;
    }

    // Of a list of all that wait, what one of its runs takes over: the texts by field.
    function carriedToWaiting(entries, entry) {
        const before = entries.slice(0, entries.indexOf(entry)).filter((one) => one.kind === "run");
        const isOfOtherDay = entry.fields.some(([name, text]) => name === "run_on" && text
            && text !== bevelbook.waitingWords.dayOf(entry.noted_ms));
        const texts = {};
        carriedOver(before, entry.car, entry.ageing, entry.noted_ms).forEach((one, field) => {
            const isLost = one.isOld || (isOfOtherDay && field in WEATHER);
            if (!isLost) texts[field] = one.text;
        });
        return texts;
    }

    // ``air 8 °C``, ``tyres white``; other fields as they are.
    function carriedWords(field, text) {
        if (field in WEATHER) return `${WEATHER[field]} ${text}${/^[-+\u2212]?[\d.,]+$/.test(text) ? " \u00b0C" : ""}`;
        if (field === "tyre_runs") return `runs on them ${text}`;
        return field === "tyres" ? `tyres ${text}` : text;
    }

    bevelbook.carriedOver = { carriedOver, carriedToWaiting, carriedWords };
})();
