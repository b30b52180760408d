// The search of a copy that no server answers: it loads the words and the pages that it needs from files beside it.
"use strict";

(() => {
    const PARTS = "0123456789abcdefghijklmnopqrstuvwxyz";
    const SHOWN = 20;
    const form = document.getElementById("site-search");
    const input = document.getElementById("q");
    const said = document.getElementById("site-found");
    const hits = document.getElementById("site-hits");
    const usual = said.textContent;
    const loaded = new Map();
    const handed = new Map();
    let asked = 0;

    window.bevelbookSearch = (what, which, held) => handed.set(`${what}-${which}`, held);

    function load(file, key) {
        if (!loaded.has(file)) {
            loaded.set(file, new Promise((done, failed) => {
                const script = document.createElement("script");
                script.src = `search/${file}.js`;
                script.addEventListener("load", () => done(handed.get(key)));
                script.addEventListener("error", () => {
                    loaded.delete(file);
                    script.remove();
                    failed(new Error(file));
                });
                document.head.append(script);
            }));
        }
        return loaded.get(file);
    }

    function wordsIn(text) {
        const plain = text.replace(/(\d),(?=\d{3}(?!\d))/g, "$1").normalize("NFKD").replace(/[\u0300-\u036f]/g, "").toLowerCase();
        return plain.match(/[\p{L}\p{N}]+/gu) || [];
    }

    function placesOf(known, word, isWhole, into) {
        const add = (steps) => {
            let place = 0;
            for (const step of steps) {
                place += step;
                into.add(place);
            }
        };
        if (isWhole) {
            if (Object.hasOwn(known, word)) add(known[word]);
        } else {
            Object.keys(known).filter((one) => one.startsWith(word)).forEach((one) => add(known[one]));
        }
        return into;
    }

    // The last word may be incomplete, but for the single letter of a name such as rear-a.
    function isWhole(words, place) {
        return place < words.length - 1 || (place > 0 && /^\p{L}$/u.test(words[place]));
    }

    async function found(words) {
        const parts = await Promise.all(words.map((word) => {
            const part = PARTS.includes(word[0]) ? word[0] : "other";
            return load(`words-${part}`, `words-${part}`);
        }));
        const inBoth = (name) => words.map((word, place) =>
            placesOf(parts[place][name], word.slice(0, 40), isWhole(words, place), new Set()));
        const all = (sets) => [...sets[0]].filter((one) => sets.every((set) => set.has(one)));
        return { titles: new Set(all(inBoth("titles"))), places: all(inBoth("words")).sort((a, b) => a - b) };
    }

    function item(page) {
        const link = document.createElement("a");
        const quiet = document.createElement("span");
        const made = document.createElement("li");
        link.href = page[0];
        link.textContent = page[1];
        quiet.className = "quiet";
        quiet.textContent = page[2];
        made.append(link, " ", quiet);
        return made;
    }

    async function section(heading, places, titles, each) {
        const first = [...places.filter((one) => titles.has(one)), ...places.filter((one) => !titles.has(one))];
        const list = document.createElement("ul");
        list.className = "ruled";
        for (const place of first.slice(0, SHOWN)) {
            const block = Math.floor(place / each);
            const pages = await load(`pages-${block}`, `pages-${block}`);
            list.append(item(pages[place % each]));
        }
        const made = document.createElement("section");
        const title = document.createElement("h2");
        title.textContent = heading;
        made.append(title, list);
        if (first.length > SHOWN) {
            const more = document.createElement("p");
            more.className = "quiet";
            more.textContent = `The first ${SHOWN} of ${first.length.toLocaleString("en")}; more words narrow it down.`;
            made.append(more);
        }
        return made;
    }

    async function search() {
        const own = ++asked;
        const words = wordsIn(input.value);
        if (!words.length) {
            said.textContent = usual;
            hits.replaceChildren();
            return;
        }
        try {
            const about = await load("kinds", "kinds-");
            const { titles, places } = await found(words);
            const sections = [];
            for (const [number, [heading, from]] of about.kinds.entries()) {
                const to = number + 1 < about.kinds.length ? about.kinds[number + 1][1] : about.pages;
                const here = places.filter((one) => one >= from && one < to);
                if (here.length) sections.push(await section(heading, here, titles, about.each));
            }
            if (own !== asked) return;
            hits.replaceChildren(...sections);
            const count = places.length === 1 ? "1 page has" : `${places.length.toLocaleString("en")} pages have`;
            said.textContent = places.length ? `${count} all of these words.` : "Nothing has all of these words.";
        } catch {
            if (own !== asked) return;
            hits.replaceChildren();
            said.textContent = "A file of the search did not come. Search again.";
        }
    }

    function keep() {
        try {
            history.replaceState(null, "", input.value ? `#q=${encodeURIComponent(input.value)}` : location.pathname);
        } catch {
            // Opened from a folder, some browsers keep no address.
        }
    }

    form.addEventListener("submit", (event) => {
        event.preventDefault();
        keep();
        search();
    });
    input.addEventListener("input", search);
    input.addEventListener("change", keep);
    if (input.value) {
        // Typed while this script was still on its way.
        keep();
        search();
    } else if (location.hash.startsWith("#q=")) {
        try {
            input.value = decodeURIComponent(location.hash.slice(3));
            search();
        } catch {
            // Not an address of ours.
        }
    }
})();
