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

    function inWords([name, text]) {
        return `${name.replace(/_temp_c$/, "").replace("_", " ")} ${text}`;
    }

    // A box for what the run before has settled asks nothing.
    function hideSettled(names) {
        form.querySelectorAll(".still").forEach((group) => {
            const labels = [...group.querySelectorAll("label")];
            labels.forEach((label) => {
                label.hidden = names.has(label.querySelector("input").name.slice(6));
            });
            group.hidden = labels.every((label) => label.hidden);
        });
    }

    async function sayBefore() {
        if (!bevelbook.waiting) return;
        const here = car;
        const waits = await bevelbook.waiting.all().catch(() => []);
        const before = waits.filter((one) => one.kind === "run" && one.car === here);
        const line = form.querySelector("[data-part=carried]");
        if (here !== car || !line) return;
        line.parentElement.querySelector(".waits-before")?.remove();
        const head = new Map(before.flatMap((one) => one.head || []));
        hideSettled(new Set(head.keys()));
        if (!before.length) return;
        const said = document.createElement("strong");
        said.className = "waits-before";
        const words = head.size ? ` (${[...head].map(inWords).join(", ")})` : "";
        said.textContent = `as in the run before, which waits on this phone${words}; `;
        line.before(said);
    }

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
