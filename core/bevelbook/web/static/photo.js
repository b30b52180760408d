// The form of a photograph: the picture is shown before it is sent, and what cannot be stored is said then. It is sent
// by this script, so that a slow network is said, and that a cut one leaves the picture and all that was chosen here.
// Without this script the form is sent like any other.
"use strict";

(() => {
    const form = document.querySelector("form.photograph");
    if (!form) return;
    const STALLED_MS = 60000;
    const SHOWN_PX = 640;
    const MOST_BYTES = Number(form.dataset.mostBytes);
    const inputs = [...form.querySelectorAll("input[type=file]")];
    const preview = form.querySelector(".preview");
    const canvas = preview.querySelector("canvas");
    const progress = form.querySelector(".sending");
    const notSent = form.querySelector(".not-sent");
    const KINDS = [
        [/^ffd8ff/, "JPEG"], [/^89504e470d0a1a0a/, "PNG"], [/^47494638/, "GIF"], [/^52494646.{8}57454250/, "WebP"],
        [/^(49492a00|4d4d002a|49492b00|4d4d002b)/, "TIFF"],
    ];
    let asked = 0;
    let looks = 0;

    function megabytes(bytes) {
        return `${(bytes / 1e6).toFixed(1)} MB`;
    }

    function say(words) {
        notSent.textContent = words;
        notSent.hidden = !words;
        if (words) notSent.focus();
    }

    function sayOfPicture(words) {
        const about = document.getElementById("about-picture");
        about.replaceChildren();
        if (!words) return;
        const fault = document.createElement("span");
        fault.className = "fault";
        fault.setAttribute("role", "alert");
        fault.textContent = words;
        about.append(fault);
    }

    function chosen() {
        return inputs.map((input) => input.files[0]).find(Boolean);
    }

    // What the laptop would not take either, by size and by the first bytes; empty where nothing is wrong.
    async function faultOf(file) {
        if (!file.size) return "This file is empty. Choose a picture.";
        if (file.size > MOST_BYTES) {
            return `This picture has ${megabytes(file.size)}, and one may have ${megabytes(MOST_BYTES)}. Take it with `
                + "fewer pixels, or choose a smaller copy.";
        }
        const bytes = new Uint8Array(await file.slice(0, 16).arrayBuffer());
        const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
        if (KINDS.some(([begins]) => begins.test(hex))) return "";
        return hex.slice(8, 16) === "66747970"
            ? "This is a HEIC picture or a film, which the laptop cannot read. Set the camera of the phone to JPEG "
                + "(\"most compatible\"), and take it again."
            : "This file is not a picture. Choose a JPEG, PNG, WebP, GIF or TIFF.";
    }

    async function show(file) {
        const number = ++asked;
        preview.hidden = true;
        let picture;
        try {
            picture = await createImageBitmap(file);
        } catch {
            return; // Not every browser shows each kind that the laptop reads.
        }
        if (number === asked) {
            const share = Math.min(1, SHOWN_PX / Math.max(picture.width, picture.height));
            canvas.width = Math.max(1, Math.round(picture.width * share));
            canvas.height = Math.max(1, Math.round(picture.height * share));
            canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
            preview.hidden = false;
        }
        picture.close();
    }

    async function look(input) {
        looks += 1;
        const file = input.files[0];
        inputs.filter((other) => other !== input && file).forEach((other) => {
            other.value = "";
        });
        sayOfPicture("");
        say("");
        const stops = form.querySelector(".stops");
        if (!form.querySelector(".fault, .stops button")) stops.replaceChildren();
        if (!chosen()) {
            preview.hidden = true;
            asked += 1;
            return;
        }
        const number = looks;
        const fault = await faultOf(chosen());
        if (number !== looks) return; // Another one was chosen meanwhile.
        sayOfPicture(fault);
        if (fault) preview.hidden = true;
        else await show(chosen());
    }

    function hold(isHeld) {
        form.querySelectorAll("button").forEach((button) => {
            button.disabled = isHeld;
        });
        form.setAttribute("aria-busy", String(isHeld));
        if (!isHeld) progress.textContent = "";
    }

    // The form as it came back, put into the one that is here: a new one would have lost the picture.
    function takeBack(page) {
        const other = page.querySelector("form.photograph");
        if (!other) {
            const words = [...page.querySelectorAll("main p")].map((one) => one.textContent.trim()).filter(Boolean);
            say(words.join(" ") || "Not stored: the answer of the laptop cannot be read. Send it again.");
            return;
        }
        const parts = [".unseen", ".stops", ...[...other.querySelectorAll("[id^=about-]")].map((one) => `#${one.id}`)];
        parts.forEach((part) => {
            const [here, there] = [form.querySelector(part), other.querySelector(part)];
            if (here && there) here.replaceChildren(...there.childNodes);
        });
        form.querySelectorAll(".choose-again").forEach((line) => line.remove());
        form.querySelectorAll(".stops button").forEach((button) => {
            button.disabled = false;
        });
        const alert = form.querySelector(".stops [role=alert]");
        if (alert) {
            alert.tabIndex = -1;
            alert.focus();
        }
    }

    function send(button) {
        const sent = new FormData(form);
        if (button && button.name) sent.append(button.name, button.value);
        const request = new XMLHttpRequest();
        let stalled = 0;
        const wait = () => {
            clearTimeout(stalled);
            stalled = setTimeout(() => request.abort(), STALLED_MS);
        };
        const lost = () => {
            clearTimeout(stalled);
            hold(false);
            say("Not sent: the laptop does not answer. The picture and what you chose are still here. Look whether the "
                + "phone is in its network and the laptop is awake, then send it again: it is stored once.");
        };
        request.upload.addEventListener("progress", (event) => {
            wait();
            const tenths = Math.floor((10 * event.loaded) / event.total);
            const words = tenths < 10
                ? `The picture is being sent: ${10 * tenths} % of ${megabytes(event.total)}. Leave this page open.`
                : "The picture is sent; the laptop is storing it.";
            if (progress.textContent !== words) progress.textContent = words;
        });
        request.addEventListener("load", () => {
            clearTimeout(stalled);
            if (request.status < 300 && request.responseURL) {
                location.assign(request.responseURL);
                return;
            }
            hold(false);
            takeBack(new DOMParser().parseFromString(request.responseText, "text/html"));
        });
        request.addEventListener("error", lost);
        request.addEventListener("abort", lost);
        request.open("POST", form.getAttribute("action") || location.href);
        hold(true);
        progress.textContent = "The picture is being sent. Leave this page open.";
        wait();
        request.send(sent);
    }

    form.addEventListener("submit", async (event) => {
        event.preventDefault();
        if (form.getAttribute("aria-busy") === "true") return;
        const button = event.submitter;
        say("");
        form.setAttribute("aria-busy", "true");
        const file = chosen();
        const fault = file ? await faultOf(file) : "";
        form.setAttribute("aria-busy", "false");
        if (file !== chosen()) return; // Another one was chosen meanwhile, and is looked at by itself.
        if (fault) {
            sayOfPicture(fault);
            inputs.find((input) => input.files[0]).focus();
            return;
        }
        send(button);
    });

    inputs.forEach((input) => {
        input.addEventListener("change", () => look(input));
    });

    // This page came back as it was left, with its picture or without.
    window.addEventListener("pageshow", () => {
        hold(false);
        const filled = inputs.find((input) => input.files[0]);
        if (filled) look(filled);
    });
})();
