// pair.js: this device is let in by the code that the terminal shows.

import { get, post } from "../api.js";
import { el, field } from "../dom.js";
import { form, missing, textInput } from "../forms.js";

function deviceGuess() {
    return matchMedia("(pointer: coarse)").matches ? "phone" : "computer";
}

async function pair(page, code, device) {
    try {
        await post("pair", { code, device });
        const back = sessionStorage.getItem("back-to") || "#/";
        sessionStorage.removeItem("back-to");
        // In the place of this address, so that "back" does not lead to a used code.
        history.replaceState(null, "", back.startsWith("#/pair") || back.startsWith("#pair") ? "#/" : back);
        dispatchEvent(new HashChangeEvent("hashchange"));
        return true;
    } catch (error) {
        page.trouble(error);
        return false;
    }
}

export default async function show(page) {
    page.title("Let this device in");
    const hello = await get("hello", page.signal);
    if (hello.paired) {
        page.root.append(
            el("p", {}, "This device is let in already."),
            el("a", { class: "press main", href: "#/" }, "To the jobs"),
        );
        return;
    }
    const code = textInput("code", {
        value: page.names.code || "",
        autocapitalize: "characters",
        spellcheck: "false",
        maxlength: 40,
    });
    const device = textInput("device", { value: deviceGuess(), maxlength: 40 });
    page.root.append(
        el(
            "p",
            {},
            "The terminal in which huewright page runs shows a code and a picture of it. Photograph the picture with this device, or type the code.",
        ),
        form(
            "pair",
            [field("Code", code), field("Name of this device", device, "Shown in the terminal: who was let in.")],
            "Let me in",
            () =>
                code.value.trim()
                    ? pair(page, code.value.trim(), device.value.trim() || deviceGuess())
                    : missing(code, "Type the code that the terminal shows."),
        ),
    );
    if (page.names.code) await pair(page, page.names.code, deviceGuess());
}
