// The form of a run: another car takes the place of this one at once, with all that was typed, by what the page has at
// hand of each; "nothing" and something else take each other away. Without this script the page says so after it was sent.
"use strict";

(() => {
    const bevelbook = (window.bevelbook = window.bevelbook || {});
    const form = document.querySelector(".run-form");
    if (!form) return;
    const HEAD = ["venue", "event", "driver", "air_temp_c", "track_temp_c", "tyres", "tyre_runs"];
    const PARTS = "[data-part], [data-ways]";

    // ---- The car

    const OWN = [...HEAD.map((name) => `#field-${name}`)].join();
    const atHand = new Map();
    let car = carHere();

    function carHere() {
        const chosen = form.querySelector("input[name=car]:checked, input[name=car][type=hidden]");
        return chosen ? chosen.value : "";
    }

    // Where a part belongs in the form: by its name, or by the id of its input.
    function placeOf(part, there = form) {
        if (part.dataset.part) return there.querySelector(`[data-part="${part.dataset.part}"]`);
        if (part.dataset.ways) return there.querySelector(`[data-ways="${part.dataset.ways}"]`);
        const input = part.querySelector("input[id]");
        return input && there.querySelector(`#${input.id}`)?.closest(".field");
    }

    // Everything of a form that may differ from car to car.
    function partsOf(there) {
        const fields = [...there.querySelectorAll(OWN)].filter((one) => one.matches("input"));
        return [...there.querySelectorAll(PARTS), ...fields.map((one) => one.closest(".field"))];
    }

    // The parts as the laptop drew them, without the buttons that scripts add.
    function asDrawn(parts) {
        return parts.map((part) => {
            const drawn = part.cloneNode(true);
            drawn.querySelectorAll(".sign-change, .other-unit").forEach((one) => one.remove());
            drawn.querySelectorAll(".unit[hidden]").forEach((one) => one.removeAttribute("hidden"));
            return drawn;
        });
    }

    // What was typed and chosen in some parts of the form, by the names of the inputs.
    function typedIn(parts) {
        const texts = new Map();
        parts.flatMap((part) => [...part.querySelectorAll("input")]).forEach((input) => {
            if (!input.name || input.type === "hidden") return;
            if (!input.matches("[type=radio], [type=checkbox]") || input.checked) texts.set(input.name, input.value);
        });
        return texts;
    }

    function named(name) {
        return [...form.querySelectorAll(`input[name="${CSS.escape(name)}"]`)];
    }

    // Chooses what was chosen; what is none of the buttons here is typed beside them.
    function chooseAgain(choices, text) {
        const same = choices.find((one) => one.value === text);
        choices.forEach((one) => {
            one.checked = one === same;
            delete one.dataset.chosen;
        });
        if (same) same.dataset.chosen = "yes";
        else if (text && text !== "-") named(`${choices[0].name}.typed`).forEach((one) => { one.value = text; });
    }

    // What was typed in the parts before, in those that took their place.
    function typeAgain(parts, typed) {
        const names = new Set(parts.flatMap((part) => [...part.querySelectorAll("input")]).map((one) => one.name));
        names.forEach((name) => {
            const inputs = named(name);
            if (!name || inputs.length === 0 || inputs[0].type === "hidden" || name.startsWith("still.")) return;
            if (inputs[0].type === "radio") chooseAgain(inputs, typed.get(name) || "");
            else if (inputs[0].type !== "checkbox") inputs[0].value = typed.get(name) || "";
        });
        typed.forEach((text, name) => {
            if (!name.startsWith("still.")) return;
            const same = named(name).find((one) => one.value === text);
            if (same) same.checked = true;
            else if (named(name.slice(6))[0]?.type === "radio") chooseAgain(named(name.slice(6)), text);
            else named(name.slice(6)).forEach((one) => { one.value = one.value || text; });
        });
    }

    // Puts the parts for another car in the place of those that are there, and what was typed in them.
    function change(to) {
        const template = [...document.querySelectorAll("template[data-car]")].find((one) => one.dataset.car === to);
        const drawn = atHand.get(to) || (template && [...template.content.children]);
        if (!drawn) return false;
        const typed = typedIn(partsOf(form));
        const cursor = form.contains(document.activeElement) ? document.activeElement.name : "";
        const parts = drawn.map((part) => part.cloneNode(true));
        parts.forEach((part) => placeOf(part)?.replaceWith(part));
        typeAgain(parts, typed);
        parts.forEach((part) => part.dispatchEvent(new CustomEvent("drawn", { bubbles: true })));
        const isLost = cursor && !form.contains(document.activeElement);
        if (isLost) named(cursor).find((one) => one.type !== "radio" || one.checked)?.focus({ preventScroll: true });
        car = to;
        sayBefore();
        return true;
    }

    atHand.set(car, asDrawn(partsOf(form)));

    function changed() {
        const to = form.querySelector("input[name='car.typed']")?.value.trim() || carHere();
        if (to === car || change(to)) return;
        // Of this car the page has nothing at hand: the laptop draws the form again.
        if (form.querySelector("input[name='car.typed']")?.value.trim()) return;
        form.dataset.drawAgain = "yes";
        form.requestSubmit();
    }

    form.addEventListener("change", (event) => {
        if (["car", "car.typed"].includes(event.target.name)) changed();
    });

    // ---- The run before, which waits

    // What was typed at the head of the run, by field: the runs after it have it too.
    bevelbook.runHead = () => {
        const found = [];
        HEAD.forEach((name) => {
            const still = named(`still.${name}`).find((one) => one.checked)?.value;
            const typed = named(`${name}.typed`)[0]?.value.trim();
            const input = named(name).find((one) => one.type !== "radio" || one.checked);
            const text = still || typed || (input ? input.value.trim() : "");
            if (text) found.push([name, text === "-" ? "none" : text]);
        });
        const isChanged = form.querySelector("input[name='changed.tick'][value=tyres]:checked");
        if (isChanged && !found.some(([name]) => name === "tyres")) found.push(["tyres", "changed"]);
        return found;
    };

    // ---- What is carried over grows old while the page stays open

    const AGAIN_MS = 60000;
    const JUST_NOW_MS = 90000;
    // By what the values that were drawn for this car grow old.
    let drawnMs = bevelbook.waiting?.openedAt ?? Date.now();

    bevelbook.runAgeing = () => {
        const head = form.querySelector("[data-part=head]");
        if (!head?.dataset.ageing) return null;
        return { ...JSON.parse(head.dataset.ageing), drawn_ms: drawnMs };
    };

    function ago(one, at) {
        const { age } = bevelbook.waitingWords;
        return at - one.ms < JUST_NOW_MS ? "just now" : `${age(at - one.ms)} ago`;
    }

    // ``air 8 °C, 40 min ago``, or that it is too old.
    function inWords(field, one, ageing, at, words = bevelbook.carriedOver.carriedWords(field, one.text)) {
        const isAged = field in ageing.holds_min && one.ms !== null;
        if (one.isOld) return `${words} is not carried over${isAged ? `: read ${ago(one, at)}` : ""}`;
        return isAged ? `${words}, ${ago(one, at)}` : words;
    }

    // What was drawn as carried over, without what a run that waits says instead.
    function sayCarried(line, found, ageing, at) {
        const drawn = JSON.parse(line.dataset.carried).filter(([field]) => found.has(field) && !found.get(field).waits);
        const words = drawn.map(([field, said]) => {
            const isRecounted = field === "tyres" && "tyre_runs" in ageing.values && !found.has("tyre_runs");
            return inWords(field, found.get(field), ageing, at, isRecounted ? undefined : said);
        });
        line.textContent = [line.dataset.day, ...words].join("; ");
    }

    // What an input is greyed with, and where that is from.
    function grey(field, one, ageing, at) {
        const input = form.querySelector(`input#field-${field}`);
        const about = input && form.querySelector(`#about-${field}`);
        if (!about || !(one || field in ageing.values)) return;
        input.placeholder = one && !one.isOld ? one.text : "";
        const isAged = one && field in ageing.holds_min && one.ms !== null;
        if (!isAged && !one?.waits && !one?.isOld) return;
        let said = about.querySelector(".quiet");
        if (!said) about.append(said = document.createElement("span"));
        said.className = "quiet";
        const when = isAged ? `, ${ago(one, at)}` : "";
        const from = one.waits ? `As noted on this phone${when}.` : `As in run ${one.run}${when}.`;
        said.textContent = one.isOld ? `Nothing is carried over${isAged ? `: it was read ${ago(one, at)}` : ""}. ` : `${from} `;
    }

    // A box for what a run that waits has settled asks nothing.
    function hideSettled(names) {
        form.querySelectorAll(".still").forEach((group) => {
            const labels = [...group.querySelectorAll("label")];
            labels.forEach((label) => {
                label.hidden = names.has(label.querySelector("input").name.slice(6));
            });
            group.hidden = labels.every((label) => label.hidden);
        });
    }

    function sayWaits(line, before, waits, words) {
        line.parentElement.querySelector(".waits-before")?.remove();
        const isSameCar = before.some((one) => one.car === car);
        if (!isSameCar && !waits.length) return;
        const said = document.createElement("strong");
        said.className = "waits-before";
        const what = isSameCar ? "as in the run before, which waits on this phone" : "as noted on this phone before";
        said.textContent = `${what}${words.length ? ` (${words.join("; ")})` : ""}; `;
        line.before(said);
    }

    async function sayBefore() {
        if (!bevelbook.waiting || !bevelbook.carriedOver) return;
        const here = car;
        const changed = bevelbook.waitingForms?.changed();
        const waiting = await bevelbook.waiting.all().catch(() => []);
        const before = waiting.filter((one) => one.kind === "run" && (!changed || one.order < changed.order));
        const line = form.querySelector("[data-part=carried]");
        const ageing = changed?.car === here && changed.ageing ? changed.ageing : bevelbook.runAgeing();
        if (here !== car || !line || !ageing) return;
        const at = changed ? changed.noted_ms : Date.now();
        const found = bevelbook.carriedOver.carriedOver(before, car, ageing, at);
        sayCarried(line, found, ageing, at);
        HEAD.forEach((field) => grey(field, found.get(field), ageing, at));
        const waits = [...found].filter(([, one]) => one.waits);
        const settled = waits.filter(([, one]) => !one.isOld).map(([field]) => field);
        const hasOtherTyres = before.some((one) => one.car === car && (one.head || []).some(([field]) => field === "tyres"));
        hideSettled(new Set(hasOtherTyres ? [...settled, "tyres"] : settled));
        sayWaits(line, before, waits, waits.map(([field, one]) => inWords(field, one, ageing, at)));
    }

    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && sayBefore());
    setInterval(sayBefore, AGAIN_MS);
    form.addEventListener("filled", sayBefore);
    form.addEventListener("emptied", sayBefore);
    document.addEventListener("handed-over", sayBefore);
    bevelbook.waiting?.started.then(sayBefore);

    // ---- After handing over: what is carried over is new

    async function drawAgain() {
        const page = bevelbook.waitingForms && await bevelbook.waitingForms.page(form.getAttribute("action"));
        const fresh = page && page.querySelector(".run-form");
        if (!fresh) return;
        document.querySelectorAll("template[data-car]").forEach((one) => one.remove());
        Element.prototype.after.call(form, ...page.querySelectorAll("template[data-car]"));
        const theirs = fresh.querySelector("input[name=car]:checked, input[name=car][type=hidden]")?.value || "";
        atHand.clear();
        drawnMs = Date.now();
        atHand.set(theirs, partsOf(fresh));
        if (change(car)) await bevelbook.waitingForms.drawnNow();
    }

    let later = null;
    document.addEventListener("handed-over", (event) => {
        if (event.detail.entry.kind !== "run" || document.querySelector("form[aria-busy=true]")) return;
        clearTimeout(later);
        later = setTimeout(drawAgain, 0);
    });

    // ---- Ticks

    form.querySelectorAll(".ticks").forEach((group) => {
        const boxes = [...group.querySelectorAll("input[type=checkbox]")];
        const nothing = boxes.find((box) => box.value === "nothing");
        const words = group.querySelector("input:not([type=checkbox])");
        group.addEventListener("change", (event) => {
            if (!nothing || (event.target === words && !words.value.trim())) return;
            if (event.target !== nothing) nothing.checked = false;
            else if (nothing.checked) {
                boxes.forEach((box) => {
                    box.checked = box === nothing;
                });
                // Words that were typed stay: they are looked at when the form is sent.
            }
        });
    });
})();
