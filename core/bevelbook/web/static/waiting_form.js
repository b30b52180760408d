// A form that is kept on the phone before it is sent. With the laptop there its answer follows as ever, within the page
// that took it, which stays open behind it; without an answer the entry waits and the form is empty for the next one.
"use strict";

(() => {
    const bevelbook = (window.bevelbook = window.bevelbook || {});
    const waiting = bevelbook.waiting;
    const forms = [...document.querySelectorAll("form[data-waits]")];
    if (!waiting || !forms.length) return;

    const PATIENCE_MS = 5000;
    const SLOW_MS = 600;
    const REDRAWS = ["day.today"];
    const OF_QUESTIONS = /^(answer\.|sure$|another$|again$|key\.next$|was\.|settled\.|waited\.)/;
    const { asText, carOf, wordsOf } = bevelbook.waitingWords;
    const { hold, laptopAnswers } = bevelbook.touch;
    const here = { path: location.pathname + location.search, title: document.title };
    const main = document.querySelector("main");
    const runsBefore = new Set(); // of any car: those that waited when this was drawn, and those noted here since
    let answeredForm = null;
    let answerShown = null;
    let kept = null;
    let changing = null;

    forms.forEach((form) => form.setAttribute("action", form.getAttribute("action") || here.path));

    // ---- What is said in a form

    function say(form, words, isKept, ...more) {
        let line = form.querySelector(".not-sent");
        if (!line) {
            line = document.createElement("div");
            line.className = "message not-sent";
            line.setAttribute("role", "alert");
            line.tabIndex = -1;
        }
        const sentence = document.createElement("p");
        sentence.textContent = words;
        line.replaceChildren(sentence, ...more);
        line.hidden = !words;
        line.classList.toggle("kept", isKept);
        return line;
    }

    function sayBelow(form, words, ...more) {
        const line = say(form, words, false, ...more);
        form.append(line);
        if (words) line.scrollIntoView({ block: "center" });
        return line;
    }

    function sayAbove(form, words) {
        const line = say(form, words, true);
        form.prepend(line);
        line.focus({ preventScroll: true });
        (form.closest("details") || form).scrollIntoView({ block: "start" });
        return line;
    }

    function other(words, act) {
        const button = document.createElement("button");
        button.type = "button";
        button.className = "other";
        button.textContent = words;
        button.addEventListener("click", act);
        return button;
    }

    function sayNothingMore() {
        document.querySelectorAll(".not-sent.kept").forEach((line) => line.remove());
    }

    document.addEventListener("input", sayNothingMore);
    document.addEventListener("handed-over", sayNothingMore);

    // The finger that is still there has touched nothing of what is there now.
    function moved() {
        document.dispatchEvent(new CustomEvent("page-moved"));
    }

    // ---- What is kept

    function textsOf(form, submitter) {
        const data = new FormData(form);
        if (submitter && submitter.name) data.append(submitter.name, submitter.value);
        return [...data].filter(([name, text]) => name !== "csrftoken" && typeof text === "string");
    }

    async function entryOf(form, submitter) {
        await atOpening;
        const fields = textsOf(form, submitter);
        const { waits } = form.dataset;
        const entry = {
            key: form.elements.namedItem("key").value,
            action: new URL(form.getAttribute("action"), location.href).pathname,
            fields,
            words: wordsOf(form),
            kind: waits,
            drawn_at: waiting.drawnAt,
            since_drawn_ms: Date.now() - waiting.openedAt,
            noted_ms: Date.now(),
            state: "waits",
            said: "",
            waited: false,
            direct: false,
        };
        if (waits === "run") {
            entry.car = carOf(fields);
            entry.head = bevelbook.runHead ? bevelbook.runHead() : [];
            entry.offered = JSON.parse(form.querySelector("[data-part=head]")?.dataset.offered || "{}");
            entry.ageing = bevelbook.runAgeing ? bevelbook.runAgeing() : null;
            entry.after = [...runsBefore].filter((key) => key !== entry.key);
            runsBefore.add(entry.key);
        }
        return isChanging(form) ? asBefore(form, entry) : entry;
    }

    // ---- One that waits, changed

    function isChanging(form) {
        return changing !== null && form.elements.namedItem("key").value === changing.key;
    }

    // What was changed goes with what its form was drawn with then, unless it is of another car now.
    function asBefore(form, entry) {
        if (entry.car !== changing.car) return entry;
        const { offered, ageing } = changing;
        const isUnseen = (name) => name !== "sure" && [...form.elements].some((one) => one.name === name)
            && [...form.elements].every((one) => one.name !== name || one.type === "hidden");
        const before = changing.fields.filter(([name]) => isUnseen(name));
        const names = new Set(before.map(([name]) => name));
        const now = entry.fields.filter(([name]) => !names.has(name));
        return { ...entry, fields: [...before, ...now], offered, ageing };
    }

    // What was drawn just now knows of every run but those that still wait.
    async function drawnNow() {
        const waits = await waiting.all().catch(() => []);
        runsBefore.clear();
        waits.filter((one) => one.kind === "run").forEach((one) => runsBefore.add(one.key));
    }

    // ---- What is asked before it is kept

    function firstLacking(form) {
        for (const field of form.querySelectorAll("[data-needed]")) {
            if (!field.checkVisibility()) continue;
            if (field.matches("input") ? field.value.trim() : isChosen(field)) continue;
            return field;
        }
        return null;
    }

    function isChosen(field) {
        const typed = field.querySelector("input:not([type=radio], [type=checkbox], [type=hidden])");
        return field.querySelector("input:checked") !== null || Boolean(typed && typed.value.trim());
    }

    function lackingWords(form, field) {
        const label = field.matches("input") ? form.querySelector(`label[for="${field.id}"]`) : field.querySelector("legend");
        return `Still needed: ${label ? label.textContent.trim().toLowerCase() : field.name}.`;
    }

    function askFirst(form, submitter) {
        const lacking = firstLacking(form);
        if (lacking) {
            sayBelow(form, lackingWords(form, lacking));
            lacking.focus();
            return true;
        }
        const [odd] = bevelbook.oddNumbers?.(form) || []; // without its script the laptop asks
        if (!odd) return false;
        odd.input.closest("details")?.setAttribute("open", "");
        const change = other(odd.confirmed ? "No: change it" : "Change it", () => {
            sayBelow(form, "");
            odd.input.focus();
            odd.input.select();
        });
        if (!odd.confirmed) {
            sayBelow(form, odd.words, change);
            return true;
        }
        const right = other("Yes, that is right", () => {
            const sure = document.createElement("input");
            sure.type = "hidden";
            sure.name = "sure";
            sure.value = odd.confirmed;
            form.append(sure);
            store(form, submitter);
        });
        sayBelow(form, odd.words, right, change).querySelector("button").focus({ preventScroll: true });
        return true;
    }

    // ---- Storing

    async function store(form, submitter) {
        if (askFirst(form, submitter)) return;
        sayBelow(form, "");
        hold(form, true);
        try {
            await keepAndSend(form, submitter);
        } finally {
            hold(form, false);
        }
    }

    async function keepAndSend(form, submitter) {
        const entry = await entryOf(form, submitter);
        const token = form.elements.namedItem("csrftoken").value;
        let held;
        const isCorrected = isChanging(form);
        try {
            held = isCorrected ? await waiting.store.correct(entry) : await waiting.store.put(entry);
        } catch (fault) {
            if (isCorrected) sayBelow(form, "This phone does not keep the change: what waits is as it was before.");
            else await sendWithoutStore(form, entry, token, fault);
            return;
        }
        if (!held) {
            sayBelow(form, "It waits no more: it was handed over or dropped meanwhile, as it was. What you typed is still "
                + "in the form; correct it in the book.");
            return;
        }
        changing = null;
        if (waiting.isGone()) {
            await goOn(form, held, { done: "none" });
            waiting.handOver().catch(() => {});
            return;
        }
        const slow = setTimeout(() => sayBelow(form, "It is kept on this phone and is being sent: the laptop has not answered yet."), SLOW_MS);
        const answer = await waiting.handOver(entry.key, token).finally(() => clearTimeout(slow));
        if (answer.done === "stored" || answer.done === "known") await showAnswer(form, held, answer);
        else if (answer.done === "asks") {
            sayBelow(form, answer.words);
            await waiting.lookAt({ ...held, direct: !held.waited });
        }
        else await goOn(form, held, answer);
    }

    // The phone does not keep it: then nothing is cleared, and it is sent as it is.
    async function sendWithoutStore(form, entry, token, fault) {
        const answer = await waiting.post(entry, token);
        if (answer.done === "stored" || answer.done === "known") {
            await showAnswer(form, entry, answer);
            return;
        }
        if (answer.done === "asks") {
            await waiting.lookAt({ ...entry, direct: true });
            return;
        }
        const isFull = fault && fault.name === "QuotaExceededError";
        const text = document.createElement("textarea");
        text.rows = 6;
        text.readOnly = true;
        text.setAttribute("aria-label", "What you typed, as text");
        text.value = asText([entry]).split("\n").slice(2).join("\n").replace(/^1\. /, "");
        const why = isFull ? "this phone's storage is full" : "this browser keeps nothing, as a private window may";
        const no = answer.done === "refused" ? answer.words : "The laptop does not answer";
        sayBelow(form, `${no.replace(/\.$/, "")}, and ${why}: it is not kept. What you typed is still in the form. Copy it `
            + "from here, or send it again when the laptop is there.", text);
        text.focus({ preventScroll: true });
        text.select();
    }

    async function goOn(form, entry, answer) {
        await waiting.store.change(entry.key, { waited: true });
        const count = (await waiting.all()).length;
        empty(form);
        await waiting.look();
        const why = answer.done === "refused" ? ` ${answer.words}` : "";
        moved();
        document.querySelectorAll("form.stored").forEach((one) => one.remove()); // it takes back another entry
        sayAbove(form, `Kept on this phone: ${count} ${count === 1 ? "waits" : "wait"}. The form is free for the next `
            + `one.${why}`);
    }

    // ---- The next entry

    // The form as for another entry: what was typed is gone, the car stays.
    function empty(form) {
        for (const input of [...form.elements]) {
            if (OF_QUESTIONS.test(input.name) && input.type === "hidden") input.remove();
            else if (input.matches("[type=radio], [type=checkbox]")) {
                if (input.name === "car") continue;
                const isFirst = input.type === "radio" && input.value === "";
                input.checked = isFirst;
                delete input.dataset.chosen;
            } else if (input.matches("input:not([type=hidden]), textarea, select")) input.value = "";
        }
        form.querySelectorAll(".asks, .clash, .stop, p:has(> button[name]), .fault").forEach((one) => one.remove());
        form.querySelectorAll("[aria-invalid]").forEach((one) => one.removeAttribute("aria-invalid"));
        form.elements.namedItem("key").value = bevelbook.newKey();
        form.dispatchEvent(new CustomEvent("emptied", { bubbles: true }));
    }

    // ---- The answer

    async function page(address) {
        const stop = new AbortController();
        const patience = setTimeout(() => stop.abort(), PATIENCE_MS);
        try {
            const answer = await fetch(address, { cache: "no-store", signal: stop.signal });
            return answer.ok ? new DOMParser().parseFromString(await answer.text(), "text/html") : null;
        } catch {
            return null;
        } finally {
            clearTimeout(patience);
        }
    }

    // Shown in the place of the form, which stays where it is, unseen: the next entry needs no laptop.
    async function showAnswer(form, entry, answer) {
        const again = answer.done === "known" && !entry.waited ? "?again=yes" : "";
        const address = answer.address ? `${answer.address}${again}` : "";
        const found = address ? await page(address) : null;
        answerShown = document.createElement("div");
        if (found) answerShown.append(...found.querySelector("main").childNodes);
        else answerShown.append(...plainAnswer(answer));
        if (!kept) {
            kept = document.createElement("div");
            kept.append(...main.childNodes);
            main.append(kept);
        }
        kept.hidden = true;
        main.append(answerShown);
        [...main.children].filter((one) => one !== kept && one !== answerShown).forEach((one) => one.remove());
        answeredForm = form;
        document.title = found ? found.title : "Stored";
        history.pushState({ answer: entry.key }, "", address || here.path);
        moved();
        main.tabIndex = -1;
        main.focus({ preventScroll: true });
        scrollTo(0, 0);
    }

    function plainAnswer(answer) {
        const heading = document.createElement("h1");
        heading.textContent = "Stored";
        const lines = [answer.words, ...(answer.more || [])].filter(Boolean).map((words) => {
            const line = document.createElement("p");
            line.textContent = words;
            return line;
        });
        const next = document.createElement("ul");
        next.className = "ways-on";
        const link = document.createElement("a");
        link.href = here.path;
        link.textContent = "Next";
        next.append(document.createElement("li"));
        next.firstChild.append(link);
        return [heading, ...lines, next];
    }

    function showForm() {
        if (answerShown) answerShown.hidden = true;
        if (kept) kept.hidden = false;
        document.title = here.title;
        moved();
    }

    bevelbook.showsAnswers = true;
    window.addEventListener("popstate", (event) => {
        const isAnswer = answerShown && event.state && event.state.answer;
        if (isAnswer) {
            kept.hidden = true;
            answerShown.hidden = false;
        } else if (location.pathname === here.path.split("?")[0]) showForm();
        else if (!location.hash) location.reload();
    });

    // A link leaves this page only while the laptop answers: it could not be opened again.
    async function follow(link) {
        if (await laptopAnswers()) {
            location.assign(link.href);
            return;
        }
        const isNext = answerShown && !answerShown.hidden && link.pathname === here.path.split("?")[0];
        if (isNext) {
            history.pushState(null, "", link.href);
            empty(answeredForm);
            showForm();
            sayAbove(answeredForm, "The laptop does not answer: what you note now is kept on this phone.");
            return;
        }
        let line = document.querySelector(".stays");
        if (!line) {
            line = document.createElement("p");
            line.className = "message stays";
            line.setAttribute("role", "alert");
        }
        line.textContent = "The laptop does not answer, so this page stays open: closed, it could not be opened again.";
        link.closest("li, p")?.after(line);
    }

    document.addEventListener("click", (event) => {
        const link = event.target instanceof Element ? event.target.closest("a[href]") : null;
        if (!link || event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey) return;
        const isElsewhere = link.origin !== location.origin || link.target || link.hasAttribute("download");
        if (isElsewhere || (link.hash && link.pathname === location.pathname)) return;
        event.preventDefault();
        follow(link);
    });

    // Something unforeseen, such as a script that did not come: then it goes as any other form does.
    function sendNatively(form, submitter) {
        form.dataset.sentNatively = "yes";
        hold(form, false);
        form.requestSubmit(submitter);
        delete form.dataset.sentNatively;
    }

    // Before touch.js, which sends other forms.
    document.addEventListener("submit", (event) => {
        const form = event.target;
        const { submitter } = event;
        if (!form.matches("form[data-waits]") || event.defaultPrevented) return;
        if ("sentNatively" in form.dataset) return;
        if ((submitter && REDRAWS.includes(submitter.name)) || "drawAgain" in form.dataset) return;
        if (!wordsOf(form)) return;
        event.preventDefault();
        if (form.getAttribute("aria-busy") === "true") return;
        store(form, submitter).catch(() => sendNatively(form, submitter));
    }, true);

    // The same run as one that another phone has stored: mine is thrown away.
    document.querySelectorAll("a[data-drops]").forEach((link) => {
        waiting.sureAtSecondTap(link, async () => {
            const { value } = link.closest("main").querySelector("form[data-waits] input[name=key]");
            await waiting.store.remove(value).catch(() => {});
            await follow(link);
        });
    });

    bevelbook.waitingForms = {
        changed: () => changing,
        drawnNow,
        empty,
        page,
        sayAbove,
        setChanged: (entry) => { changing = entry; },
        showForm,
    };
    const atOpening = drawnNow();
    // It goes on without the laptop only where this browser keeps something.
    atOpening.then(() => waiting.all()).then(() => {
        document.querySelectorAll("[data-stays-open]").forEach((line) => { line.hidden = false; });
    }).catch(() => {});
})();
