// What waits on this phone, said at the top of every page, and handed over one by one in the order in which it was noted:
// when a page opens or comes back into view, with the next entry, on a tap, and every 30 s while something waits and the
// page is seen. The laptop knows an entry by its key and stores it once. Whether the laptop is there is judged by a
// request alone.
"use strict";

(() => {
    const bevelbook = (window.bevelbook = window.bevelbook || {});
    const place = document.getElementById("waiting");
    if (!place) return;

    const AGAIN_MS = 30000;
    const PATIENCE_MS = 6000;
    const LONG_MS = 3600000;
    const SURE_MS = 10000;
    const MOST_KEYS = 200;
    const CHANGING_MS = 600000; // a page that was shut while it changed an entry holds it no longer than this
    const GONE = "the laptop does not answer";
    const IN_DOUBT = "The laptop has it already, perhaps as it was before you changed it. See it in the book and correct it "
        + "there, then drop it here.";
    const { age, asFile, asText, clock, dayOf } = bevelbook.waitingWords;
    const store = bevelbook.waitingStore(place.dataset.book);
    const isPaired = "address" in place.dataset;
    const openedAt = Date.now();
    const drawnPath = location.pathname + location.search;

    let entries = [];
    let tried = null;
    let handed = [];
    let remarks = [];
    let running = null;
    let timer = null;
    let drawn = "";

    // ---- The laptop

    async function asked(address, options = {}) {
        const stop = new AbortController();
        const patience = setTimeout(() => stop.abort(), PATIENCE_MS);
        try {
            const headers = { Accept: "application/json" };
            const answer = await fetch(address, { cache: "no-store", headers, signal: stop.signal, ...options });
            const found = await answer.json();
            return found instanceof Object ? found : null;
        } catch {
            return null; // no answer, or none of ours
        } finally {
            clearTimeout(patience);
        }
    }

    function hasWords(answer) {
        return typeof answer.words === "string";
    }

    async function news(keys = []) {
        const found = await asked(`${place.dataset.address}?keys=${keys.slice(0, MOST_KEYS).join(",")}`);
        return found && ("token" in found || ("done" in found && hasWords(found))) ? found : null;
    }

    // The fields with which an entry goes to the laptop, with when it was noted by two measures, and which runs this phone
    // noted before it. A form that was drawn again with a question has them already.
    function sentFields(entry) {
        if (entry.fields.some(([name]) => name === "waited.forward")) return entry.fields;
        const before = entry.fields.filter(([name]) => name === "waited.after").map(([, key]) => key);
        const after = (entry.after || []).filter((key) => !before.includes(key));
        return [
            ...entry.fields,
            ["waited.drawn_at", entry.drawn_at],
            ["waited.since_drawn_s", entry.since_drawn_ms / 1000],
            ["waited.s", (Date.now() - entry.noted_ms) / 1000],
            ...after.map((key) => ["waited.after", key]),
        ];
    }

    async function post(entry, token) {
        const body = new URLSearchParams([["csrftoken", token], ...sentFields(entry)]);
        const answer = await asked(entry.action, { method: "POST", body });
        const isOurs = answer && "done" in answer && hasWords(answer) && (answer.key === entry.key || (answer.done === "refused" && !answer.key));
        return isOurs ? answer : { done: "none" };
    }

    function isOpenHere(entry) {
        return [...document.querySelectorAll("form[data-waits] input[name=key]")].some((one) => one.value === entry.key);
    }

    function isBeingChanged(entry) {
        const left = (entry.changing_until || 0) - Date.now();
        return left > 0 && left <= CHANGING_MS;
    }

    // What was changed after it had been sent may be in the laptop as it was before: that is for a person to see.
    function isInDoubt(entry, answer) {
        return answer.done === "known" && entry.was_sent;
    }

    async function doubt(entry, outcome) {
        await store.change(entry.key, { state: "asks", said: IN_DOUBT, is_stored: true });
        return said("one needs a look", outcome);
    }

    async function done(entry, answer, hasWaited = true) {
        await store.remove(entry.key);
        const words = (answer.words || entry.words).replace(/^Stored: /, "").replace(/\.$/, "");
        if (hasWaited) remarks.push(...(answer.more || []).filter((one) => !(answer.left_out || []).includes(one)));
        if (hasWaited) document.querySelectorAll("form.stored").forEach((one) => one.remove()); // of an entry before it
        if (hasWaited) handed.push([words, ...(answer.left_out || [])].join(". ").replace(/\.$/, ""));
        document.dispatchEvent(new CustomEvent("handed-over", { detail: { entry, answer } }));
    }

    // Hands over what waits, in order, until one is not taken. Gives what came of the entry that was noted just now.
    async function handOverAll(now, token) {
        entries = await store.all();
        let outcome = { done: "none" };
        if (!entries.length) return outcome;
        const isAlone = now && entries.length === 1;
        let fresh = isAlone ? token : "";
        if (!fresh) {
            const found = await news(entries.map((one) => one.key));
            if (!found) return said(GONE, outcome);
            if (found.done) return said(found.words, found);
            if (found.book !== place.dataset.book) return said("another book is at this address now", outcome);
            fresh = found.token;
            for (const entry of entries.filter((one) => found.known.includes(one.key) && one.key !== now)) {
                if (entry.was_sent) return doubt(entry, outcome);
                await done(entry, { done: "known" });
            }
        }
        for (const { key } of await store.all()) {
            const isNow = key === now;
            const entry = await store.begin(key, (one) => !isNow && isBeingChanged(one));
            if (!entry) continue; // another page of this phone has handed it over meanwhile
            if (!isNow && isBeingChanged(entry)) return said("one is being changed first", outcome);
            if (entry.state === "asks" && !isNow) return said("one needs a look first", outcome);
            if (!isNow && isOpenHere(entry) && entry.direct) continue;
            const hasWaited = entry.waited || !isNow;
            let answer = await post(entry, fresh);
            if (answer.code === "stale_token") {
                fresh = (await news())?.token || "";
                answer = fresh ? await post(entry, fresh) : { done: "none" };
            }
            if (isNow) outcome = answer;
            if (isInDoubt(entry, answer)) return doubt(entry, isNow ? { done: "refused", words: IN_DOUBT } : outcome);
            if (answer.done === "none") return said(GONE, outcome);
            if (answer.done === "refused") {
                const mayGoLater = ["busy", "stale_token", "not_paired", "other_book"].includes(answer.code);
                if (!mayGoLater) await store.change(entry.key, { state: "asks", said: answer.words });
                return said(answer.words, outcome);
            }
            if (answer.done === "asks") {
                await store.change(entry.key, { state: "asks", said: answer.words, direct: isNow && !hasWaited });
                return isNow ? outcome : said("one needs a look", outcome);
            }
            await done(entry, answer, hasWaited);
        }
        tried = null;
        return outcome;
    }

    function said(words, outcome) {
        tried = { at: Date.now(), words };
        return outcome;
    }

    // Whether something waits since the laptop did not answer: then the next entry need not wait for an answer.
    function isGone() {
        return tried !== null && tried.words === GONE && entries.some((one) => one.waited);
    }

    // One at a time: who comes meanwhile waits for the one before.
    async function handOver(now = null, token = "") {
        return alone(() => handOverAll(now, token));
    }

    async function alone(act) {
        while (running) await running.catch(() => {});
        running = act();
        try {
            return await running;
        } finally {
            running = null;
            await look().catch(() => {});
        }
    }

    // Holds what waits while it is changed, also against other pages; false where it waits no more.
    function holdWhileChanged(key) {
        return alone(() => store.change(key, { changing_until: Date.now() + CHANGING_MS }));
    }

    // Opens the page of an entry that the laptop asks about, with all that was typed.
    async function lookAt(entry) {
        const found = await news([entry.key]);
        if (!found || found.done) {
            said(found ? found.words : GONE, null);
            await look();
            return;
        }
        if (found.known.includes(entry.key) && entry.was_sent) {
            await doubt(entry, null);
            await look();
            return;
        }
        if (found.known.includes(entry.key)) {
            await done(entry, { done: "known" });
            await handOver();
            return;
        }
        const form = document.createElement("form");
        form.method = "post";
        form.action = entry.action;
        form.hidden = true;
        for (const [name, value] of [["csrftoken", found.token], ...sentFields(entry)]) {
            const field = document.createElement("textarea");
            field.name = name;
            field.value = value;
            form.append(field);
        }
        document.body.append(form);
        HTMLFormElement.prototype.submit.call(form);
    }

    // ---- The line

    function made(tag, words, more = {}) {
        const one = document.createElement(tag);
        if (words) one.textContent = words;
        Object.entries(more).forEach(([name, value]) => {
            if (name === "onclick") one.addEventListener("click", value);
            else one.setAttribute(name, value);
        });
        return one;
    }

    const count = made("p", "", { role: "status", class: "waiting-count" });
    const try_ = made("p", "", { class: "waiting-tried" });
    const goesOn = document.querySelector("form[data-waits]") !== null;
    const warning = made("p", `${goesOn ? "Leave this page open: closed, it cannot be opened again without the laptop."
        : "Without the laptop only the page Note a run goes on, where it was left open."} A private `
        + "window, or a phone unused for a week, may drop what waits.", { class: "quiet" });
    const list = made("ol");
    const words = made("details");
    words.append(made("summary", "What waits"), list);
    const saysList = made("ul");
    const says = made("details");
    says.append(made("summary", "What the laptop says of them"), saysList);
    const buttons = made("p", "", { class: "waiting-buttons" });
    const text = made("textarea", "", { rows: 8, readonly: "", "aria-label": "All that waits, as text" });
    const textAbout = made("p", "", { class: "quiet", role: "status" });
    const filed = made("p", "", { class: "quiet", role: "status" });
    text.hidden = true;

    function takeNow() {
        handed = [];
        remarks = [];
        handOver();
    }

    function showText() {
        text.hidden = textAbout.hidden = false;
        text.value = asText(entries);
        text.focus();
        text.select();
        textAbout.textContent = "It is marked: copy it, and put it into a message or a note. It goes on waiting here.";
    }

    function giveFile() {
        const file = asFile(entries);
        const link = made("a", "", { download: `bevelbook-waiting-${dayOf(Date.now())}.csv` });
        link.href = URL.createObjectURL(new Blob([file.text], { type: "text/csv" }));
        document.body.append(link);
        link.click();
        link.remove();
        setTimeout(() => URL.revokeObjectURL(link.href), SURE_MS);
        const left = file.left.length ? ` Not in the file, so copy it as text: ${file.left.join(" \u2014 ")}` : "";
        filed.hidden = false;
        filed.textContent = `${file.rows} of ${entries.length} in the file. On the laptop, in the folder of the book: `
            + `${place.dataset.bringIn}. A run has one diff there; another one is in its remark. `
            + `Then drop here what was brought in.${left}`;
    }

    // What throws something away asks for a second tap.
    function sureAtSecondTap(button, act) {
        const first = button.textContent;
        let isSure = false;
        button.addEventListener("click", (event) => {
            event.preventDefault();
            if (isSure) {
                act();
                return;
            }
            isSure = true;
            button.textContent = `${first} for good: tap again`;
            setTimeout(() => {
                isSure = false;
                button.textContent = first;
            }, SURE_MS);
        });
        return button;
    }

    function dropButton(entry) {
        return sureAtSecondTap(made("button", "Drop it", { type: "button", class: "other" }), async () => {
            await store.remove(entry.key);
            await handOver();
        });
    }

    // Puts an entry back into its form, where that is on this page.
    function changeButton(entry) {
        const about = made("p", "", { class: "quiet", role: "status" });
        const act = async () => {
            about.textContent = bevelbook.changeWaiting ? await bevelbook.changeWaiting(entry)
                : "Its form is not on this page. It is changed on the page where it was noted, where that was left open, or "
                    + "on Note a run.";
        };
        return [made("button", "Change it", { type: "button", class: "other", onclick: act }), about];
    }

    function lineOf(entry) {
        const line = made("li");
        line.append(made("span", `${clock(entry.noted_ms)} ${entry.words}`));
        if (isBeingChanged(entry)) {
            line.append(made("p", "It is in its form, being changed: what follows waits for it.", { class: "quiet" }));
            if (isOpenHere(entry)) return line;
        }
        if (entry.state === "asks") {
            line.append(made("p", `Needs a look: ${entry.said}`, { class: "fault" }));
            const stored = (place.dataset.address || "").replace(/waiting$/, `stored/${entry.key}`);
            line.append(entry.is_stored && isPaired ? made("a", "See it in the book", { href: stored })
                : made("button", "Look at it", { type: "button", class: "other", onclick: () => lookAt(entry) }));
        }
        line.append(...changeButton(entry), dropButton(entry));
        return line;
    }

    function countWords(seen, now) {
        const asks = seen.filter((one) => one.state === "asks").length;
        const oldest = Math.min(...seen.map((one) => one.noted_ms));
        const waits = age(now - oldest);
        const many = seen.length === 1 ? "1 waits on this phone" : `${seen.length} wait on this phone`;
        const looks = asks ? ` ${asks === 1 ? "1 needs" : `${asks} need`} a look${seen.length > asks ? ": what follows waits for it" : ""}.` : "";
        const since = `since ${clock(oldest, now)}${waits ? `, ${waits}` : ""}`;
        if (now - oldest <= LONG_MS) return `${many}, ${since}.${looks}`;
        return `${many}, the oldest for over an hour: ${since}. Bring the phone to the laptop.${looks}`;
    }

    function draw() {
        const now = Date.now();
        const seen = entries.filter((one) => isBeingChanged(one) || !isOpenHere(one));
        place.hidden = !seen.length && !handed.length;
        place.classList.toggle("long", seen.some((one) => now - one.noted_ms > LONG_MS));
        const handedWords = handed.length ? `Handed over: ${handed.join("; ")}. ` : "";
        count.textContent = handedWords + (seen.length ? countWords(seen, now) : "Nothing waits on this phone.");
        const stops = remarks.filter((one) => /\bSTOP\b/.test(one));
        if (!remarks.length) says.remove();
        else if (!says.isConnected) count.after(says);
        says.open = says.open || stops.length > 0;
        saysList.replaceChildren(...stops.map((one) => made("li", one, { class: "fault" })),
            ...remarks.filter((one) => !stops.includes(one)).map((one) => made("li", one)));
        [try_, warning, words, buttons].forEach((one) => {
            one.hidden = !seen.length;
        });
        if (!seen.length) [text, textAbout, filed].forEach((one) => { one.hidden = true; });
        try_.hidden = !seen.length || !tried;
        if (tried) try_.textContent = `Last try ${clock(tried.at)}: ${tried.words.replace(/\.$/, "")}.`;
        const sign = seen.map((one) => `${one.key} ${one.state} ${one.said} ${one.words} ${isBeingChanged(one) && isOpenHere(one)} ${isBeingChanged(one)}`).join();
        if (sign !== drawn) {
            drawn = sign;
            words.open = words.open || seen.some((one) => one.state === "asks");
            list.replaceChildren(...seen.map(lineOf));
            if (!text.hidden) text.value = asText(entries);
        }
        clearTimeout(timer);
        if (seen.length) timer = setTimeout(isPaired ? again : look, AGAIN_MS);
    }

    function again() {
        if (document.visibilityState === "visible") handOver().catch(() => {});
        else timer = setTimeout(again, AGAIN_MS);
    }

    async function look() {
        entries = await store.all();
        draw();
    }

    function begin() {
        const pair = made("a", "Pair this phone again on the first page to hand it over", { href: place.dataset.home || "/" });
        const now = made("button", "Hand over now", { type: "button", class: "other", onclick: takeNow });
        buttons.append(
            isPaired ? now : pair,
            made("button", "As text", { type: "button", class: "other", onclick: showText }),
            made("button", "As a file", { type: "button", class: "other", onclick: giveFile }),
        );
        place.append(count, try_, warning, words, buttons, text, textAbout, filed);
    }

    // An entry that the laptop asked about at once is again what its form says: it never waited.
    async function takeBackIntoForm() {
        for (const entry of await store.all()) {
            if (entry.direct && isOpenHere(entry)) await store.remove(entry.key);
        }
    }

    // A device that only reads gets no store.
    async function isThere() {
        if (isPaired || !indexedDB.databases) return true;
        return (await indexedDB.databases()).some((one) => one.name === `bevelbook-${place.dataset.book}`);
    }

    async function start() {
        try {
            if (!await isThere()) return;
            await takeBackIntoForm();
            await look();
        } catch {
            return; // a browser without a store: a form says so when it is sent
        }
        if (entries.length && isPaired) await handOver();
    }

    function seenAgain() {
        look().then(() => entries.length && isPaired && handOver()).catch(() => {});
    }

    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && seenAgain());
    window.addEventListener("pageshow", (event) => event.persisted && seenAgain());
    window.addEventListener("popstate", () => {
        if (!bevelbook.showsAnswers && location.pathname + location.search !== drawnPath && !location.hash) location.reload();
    });

    bevelbook.waiting = {
        all: () => store.all(),
        drawnAt: place.dataset.now,
        handOver,
        holdWhileChanged,
        isGone,
        look,
        lookAt,
        news,
        openedAt,
        post,
        store,
        sureAtSecondTap,
        text: () => asText(entries),
    };
    begin();
    bevelbook.waiting.started = start();
})();
