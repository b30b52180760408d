// Entries that wait, in words: of a form what was typed, how long it waits, all of it as text to copy, and as a file that
// an import takes.
"use strict";

(() => {
    const bevelbook = (window.bevelbook = window.bevelbook || {});
    const MINUTE_MS = 60000;
    const HOUR_MS = 60 * MINUTE_MS;
    const DAY_MS = 24 * HOUR_MS;
    const NOUNS = { run: "Run", weighing: "Weighing", idea: "Idea or remark" };
    const PLACES = ["rear", "centre", "front"];
    const COLUMNS = ["date", "builder", "diff", "total_mass_g", "closed_mass_g", "venue", "position", "grip", "track_temp_c",
        "air_temp_c", "runs", "call", "result_note", "after_run_s", "second_diff_temp_c", "second_after_run_s", "started_at",
        "day_order", "event", "car", "driver", "surface_state", "grip_trend", "laps", "lap_times", "best_lap_s",
        "best_five_s", "tyres", "tyre_runs", "changed", "balance_entry", "balance_middle", "balance_exit", "forward_drive",
        "side_bite", "happened", "temp_taken", "mass_basis", "scale", "parts_on_pan", "sister_mass_g", "runs_since_build",
        "wiped", "front_diff_temp_c", "centre_diff_temp_c", "rear_diff_temp_c"];

    const two = (number) => String(number).padStart(2, "0");

    function dayOf(ms) {
        const at = new Date(ms);
        return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
    }

    // The time of day by the phone's clock, with the day where that is another one.
    function clock(ms, now = Date.now()) {
        const at = new Date(ms);
        const time = `${two(at.getHours())}:${two(at.getMinutes())}`;
        return dayOf(ms) === dayOf(now) ? time : `${dayOf(ms)} ${time}`;
    }

    // ``1 h 20 min``; empty where the clock was changed since.
    function age(ms) {
        if (ms < 0) return "";
        if (ms < MINUTE_MS) return "less than a minute";
        if (ms < HOUR_MS) return `${Math.floor(ms / MINUTE_MS)} min`;
        if (ms < DAY_MS) return `${Math.floor(ms / HOUR_MS)} h ${Math.floor((ms % HOUR_MS) / MINUTE_MS)} min`;
        const days = Math.floor(ms / DAY_MS);
        return `${days} day${days === 1 ? "" : "s"} ${Math.floor((ms % DAY_MS) / HOUR_MS)} h`;
    }

    function plain(node) {
        return node ? node.textContent.replace(/\s+/g, " ").trim() : "";
    }

    function legendOf(input) {
        const legend = input.closest("fieldset")?.querySelector("legend");
        if (!legend) return "";
        const unit = plain(legend.querySelector(".unit"));
        return unit ? plain(legend).slice(0, -unit.length).trim() : plain(legend);
    }

    function labelOf(form, input) {
        const label = input.id && form.querySelector(`label[for="${input.id}"]`);
        return label ? plain(label) : input.getAttribute("aria-label") || legendOf(input) || input.name;
    }

    // What a person typed or chose: the name of each field's input, its label and the words.
    function typedIn(form) {
        const found = [];
        for (const input of form.elements) {
            if (!input.name || input.disabled || input.matches("[type=hidden], button, fieldset, [type=submit]")) continue;
            if (input.matches("[type=radio], [type=checkbox]")) {
                if (!input.checked || !input.value) continue;
                const label = input.type === "radio" || input.closest("fieldset") ? legendOf(input) : plain(input.closest("label"));
                const words = plain(input.closest("label")) || input.value;
                const before = found.find((one) => one.label === label && input.type === "checkbox");
                if (before) before.words += `, ${words}`;
                else found.push({ name: input.name, label, words });
            } else if (input.value.trim()) {
                const unit = plain(input.closest(".typed")?.querySelector(".unit"));
                const typed = input.value.trim();
                const words = unit && /^[-+\u2212]?[\d.,]+$/.test(typed) ? `${typed} ${unit}` : typed;
                found.push({ name: input.name, label: labelOf(form, input), words });
            }
        }
        return found;
    }

    function lower(words) {
        return words.slice(0, 1).toLowerCase() + words.slice(1);
    }

    function carOf(fields) {
        const texts = new Map(fields.filter(([, text]) => text));
        return texts.get("car.typed") || texts.get("car") || "";
    }

    // One line for people of what is typed in a form; empty where nothing is.
    function wordsOf(form) {
        const typed = typedIn(form).filter((one) => !["car", "car.typed"].includes(one.name));
        if (!typed.length) return "";
        const car = form.dataset.waits === "run" ? carOf([...new FormData(form)]) : "";
        const noun = NOUNS[form.dataset.waits] || form.dataset.waits;
        return `${noun}${car ? `, ${car}` : ""}: ${typed.map((one) => `${lower(one.label)} ${one.words}`).join("; ")}`;
    }

    // What a run that waits takes over, in words; empty where that is nothing.
    function carriedIn(entries, entry) {
        if (entry.kind !== "run" || !bevelbook.carriedOver) return "";
        const { carriedToWaiting, carriedWords } = bevelbook.carriedOver;
        const typed = new Set((entry.head || []).map(([name]) => name));
        const carried = Object.entries(carriedToWaiting(entries, entry)).filter(([name]) => !typed.has(name));
        return carried.length ? `; carried over: ${carried.map((one) => carriedWords(...one)).join(", ")}` : "";
    }

    // All of it to copy: what was typed, in the order in which it was, and what is carried over to each.
    function asText(entries, now = Date.now()) {
        const lines = entries.map(
            (one, place) => `${place + 1}. ${clock(one.noted_ms, now)} ${one.words}${carriedIn(entries, one)}`,
        );
        return `${entries.length} wait on this phone, ${dayOf(now)} ${clock(now, now)}\n\n${lines.join("\n\n")}\n`;
    }

    // A number as typed on a keypad, with a point: a comma before three digits may also part thousands, and stays.
    function number(text) {
        return /^[-+\u2212]?\d+,\d+$/.test(text) && !/,\d{3}$/.test(text) ? text.replace(",", ".") : text;
    }

    function seconds(minutes) {
        const found = Number(minutes.replace(",", "."));
        return minutes && Number.isFinite(found) ? String(Math.round(found * 6000) / 100) : minutes;
    }

    function textsOf(entry) {
        const texts = {};
        const ticked = {};
        for (const [name, text] of entry.fields) {
            const typed = text.trim();
            if (!typed || typed === "-") continue;
            if (name.endsWith(".tick")) (ticked[name.slice(0, -5)] = ticked[name.slice(0, -5)] || []).push(typed);
            else if (name.endsWith(".words")) (ticked[name.slice(0, -6)] = ticked[name.slice(0, -6)] || []).push(typed);
            else if (name.endsWith(".typed")) texts[name.slice(0, -6)] = typed;
            else if (name.startsWith("still.")) texts[name.slice(6)] = texts[name.slice(6)] || typed;
            else if (!(name in texts)) texts[name] = typed;
        }
        for (const [name, words] of Object.entries(ticked)) texts[name] = words.join("; ");
        return texts;
    }

    function whoOf(texts) {
        return texts.noted_by || texts["noted.by"] || "";
    }

    // The row of a run: its diff at the rear, else the next; what the row has no column for is in its remark.
    function rowOfRun(entries, entry) {
        const texts = textsOf(entry);
        const isChanged = (texts.changed || "").includes("tyres") && !texts.tyres;
        const diffs = Object.entries(entry.offered || {}).filter(([name]) => PLACES.includes(name));
        const row = { ...Object.fromEntries(diffs), ...bevelbook.carriedOver?.carriedToWaiting(entries, entry), ...texts };
        if (isChanged) delete row.tyres;
        if (isChanged || texts.tyres) row.tyre_runs = texts.tyre_runs || "";
        const places = PLACES.filter((place) => row[place]);
        const first = places.find((place) => texts[`${place}_temp_c`]) || places[0];
        if (!first) return null;
        const own = { ...row, date: texts.run_on || dayOf(entry.noted_ms), builder: whoOf(texts), diff: row[first] };
        own.position = first;
        own.temp_taken = texts[`${first}_temp_taken`];
        own.after_run_s = texts[`${first}_after_s`] || seconds(texts.after || "");
        own.second_diff_temp_c = texts[`${first}_second_temp_c`];
        own.second_after_run_s = texts[`${first}_second_after_s`];
        const isSaid = (place) => place !== first && (texts[place] || texts[`${place}_temp_c`]);
        const beside = places.filter(isSaid).map((place) => `${place}: ${row[place]}`
            + `${texts[`${place}_temp_c`] ? ` ${texts[`${place}_temp_c`]} \u00b0C` : ""}`);
        PLACES.forEach((place) => {
            own[`${place}_diff_temp_c`] = texts[`${place}_temp_c`];
        });
        own.result_note = [texts.note, ...beside].filter(Boolean).join("; ");
        return own;
    }

    // The row of a weighing; one of which nobody said what was on the scale is none, since a row would have it guessed.
    function rowOfWeighing(entry) {
        const texts = textsOf(entry);
        if (!texts.build || !texts.mass_g || !texts.mass_basis) return null;
        const column = texts.mass_basis === "closed" ? "closed_mass_g" : "total_mass_g";
        return {
            ...texts,
            date: texts.weighed_on || dayOf(entry.noted_ms),
            builder: texts.person || whoOf(texts),
            diff: texts.build,
            [column]: texts.mass_g,
            runs_since_build: texts.runs || "",
            runs: "",
            result_note: texts.note || "",
        };
    }

    function cell(text) {
        return /[",\r\n]/.test(text) ? `"${text.replace(/"/g, '""')}"` : text;
    }

    // A file that an import takes, and the words of what it has no row for.
    function asFile(entries) {
        const rows = [];
        const left = [];
        for (const entry of entries) {
            const row = entry.kind === "run" ? rowOfRun(entries, entry) : entry.kind === "weighing" ? rowOfWeighing(entry) : null;
            if (row) rows.push(row);
            else left.push(entry.words);
        }
        const used = COLUMNS.filter((name) => ["date", "diff"].includes(name) || rows.some((row) => row[name]));
        const lines = rows.map((row) => used.map((name) => cell(number(row[name] || ""))).join(","));
        return { text: [used.join(","), ...lines, ""].join("\r\n"), rows: rows.length, left };
    }

    bevelbook.waitingWords = { age, asFile, asText, carOf, clock, dayOf, wordsOf };
})();
