// What a person does on the page, step by step: shared by the ways.

import { execFileSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { check, command, drag, own, pause, press, program, same, tap, tree, until } from "./shop.mjs";

export async function startJob(device, title) {
    await device.open("#/");
    await device.page.getByLabel("What is it?").fill(title);
    await press(device, "Start this job");
    await until(() => device.page.url().includes("/new"));
    await device.settled();
    return decodeURIComponent(/#\/job\/([^/]+)\//.exec(device.page.url())[1]);
}

// Says which side the photos show and under which lamp, and chooses the files as from the phone's gallery.
export async function choosePhotos(device, files, { view = "lid", lamp = "" } = {}) {
    const { page } = device;
    const side = page.getByLabel("Which side of the piece");
    if (!(await side.isVisible())) await page.locator("details.facts > summary").first().click();
    await side.fill(view);
    await side.press("Tab");
    await page.getByLabel("Under which lamp").fill(lamp);
    await page.getByLabel("Under which lamp").press("Tab");
    await page.getByLabel("Choose photos").setInputFiles(files);
    await page.getByRole("button", { name: "Keep this photo" }).waitFor();
    await device.settled();
}

// Where a place of the picture is on the screen: by the box that the browser gives the picture, not by the page's own reckoning.
export async function onScreen(device, [x, y], [width, height]) {
    const box = await device.page.locator("img.stage-picture").boundingBox();
    return { x: box.x + (x / width) * box.width, y: box.y + (y / height) * box.height };
}

export async function toStage(device) {
    await device.page.locator(".stage").evaluate((e) => e.scrollIntoView({ block: "start" }));
    await pause(60);
}

export const marksOf = (device) =>
    device.page.locator(".stage-marks g.mark[data-name]").evaluateAll((all) =>
        all.map((e) => ({
            name: e.dataset.name,
            role: e.dataset.role,
            polygon: e.dataset.polygon.split(" ").map((p) => p.split(",").map(Number)),
        })),
    );

export async function letGo(device) {
    const done = device.page.getByRole("button", { name: "Done", exact: true });
    if (await done.isVisible().catch(() => false)) await press(device, "Done", { exact: true });
}

// Draws a rectangle over [x, y, width, height] of the picture with one stroke, and names it.
export async function drawBox(device, button, [x, y, width, height], size, name = "") {
    await letGo(device);
    await press(device, button, { exact: true });
    await toStage(device);
    const before = (await marksOf(device)).length;
    await drag(device, await onScreen(device, [x, y], size), await onScreen(device, [x + width, y + height], size));
    const made = await until(async () => ((await marksOf(device)).length > before ? marksOf(device) : null), 5000);
    if (!check(made, `${button}: drawn`)) return;
    const [left, top] = made.at(-1).polygon[0],
        [right, bottom] = made.at(-1).polygon[2];
    const k = (await device.page.locator("img.stage-picture").boundingBox()).width / size[0];
    const allowed = 1 + 1 / k; // a mouse counts whole CSS pixels
    check(
        [left - x, top - y, right - x - width, bottom - y - height].every((d) => Math.abs(d) <= allowed),
        `${button}: drawn where it was aimed at: ${made.at(-1).polygon}`,
    );
    if (name) await rename(device, name);
}

export async function rename(device, name) {
    const field = device.page.getByLabel(/^Name of this/);
    await field.fill(name);
    await field.press("Enter"); // "done" on a phone's keyboard; it closes the list of names too
    check(await until(async () => (await marksOf(device)).some((mark) => mark.name === name), 5000), `it is named ${name}`);
}

// Chooses a mark by a tap in its middle.
export async function tapMark(device, name, size) {
    await toStage(device);
    const mark = (await marksOf(device)).find((one) => one.name === name);
    const middle = [0, 1].map((axis) => mark.polygon.reduce((sum, p) => sum + p[axis], 0) / mark.polygon.length);
    await tap(device, await onScreen(device, middle, size));
    check(await until(() => device.page.locator(".stage-marks g.mark.selected").count(), 5000), `${name} is chosen by a tap`);
}

// The question whether that is the card, answered with yes; true where it was asked.
export async function cardIsTheCard(device) {
    const yes = device.page.getByRole("button", { name: "Yes, it is" });
    if (!(await yes.isVisible().catch(() => false))) return false;
    await press(device, "Yes, it is");
    return true;
}

export async function reading(device) {
    await device.page.locator(".reading .repair .verdict").first().waitFor();
    await device.settled();
    await pause(350);
    await device.settled();
    return device.page.locator(".reading").innerText();
}

// The reading on the screen is the one of the command line with the same marks: its sentences and numbers.
export async function readsAsCommandLine(device, file, size) {
    const text = (await reading(device)).replace(/\s+/g, " ");
    const sent = device.sent.filter((one) => one.path.endsWith("/reading")).at(-1);
    const marks = sent ? JSON.parse(sent.body).marks : await marksOf(device);
    const list = join(own, `marks-${Date.now()}.json`);
    writeFileSync(list, JSON.stringify({ picture: size, marks }));
    const told = execFileSync(program, ["read", file, "--marks", list], {
        env: { ...process.env, XDG_DATA_HOME: join(own, "data") },
    }).toString();
    const verdicts = [
        ...told.matchAll(/^(.+): ([A-Z][A-Z ]+)\. (.+)\n(?: {4}.+\n)*? {4}gap to the old wood ([\d.]+ \([\d.]+ to [\d.]+\))/gm),
    ];
    check(verdicts.length > 0, `the command line reads ${file}: ${told.slice(0, 300)}`);
    for (const [, patch, , words, gap] of verdicts) {
        check(text.includes(patch), `the reading names ${patch}`);
        check(text.includes(gap), `${patch}: gap ${gap} on the screen: ${text.slice(0, 300)}`);
        check(
            text.toLowerCase().includes(words.toLowerCase().replace(/\.$/, "")),
            `${patch}: "${words}" on the screen: ${text.slice(0, 300)}`,
        );
    }
    const json = await command(own, "read", file, "--marks", list);
    return { marks, json };
}

// Says yes to what is asked of the marks, where something is.
export async function saysYes(device) {
    for (const answer of ["They lie right", "Yes, it is"])
        if (
            await device.page
                .getByRole("button", { name: answer })
                .isVisible()
                .catch(() => false)
        )
            await press(device, answer);
}

export async function keep(device, job) {
    await press(device, "Keep this photo");
    check(
        await until(() => device.page.url().endsWith(`#/job/${encodeURIComponent(job)}`)),
        `kept, and back on the bench: ${device.page.url()}`,
    );
    await device.settled();
}

// Presses what logs a form; the page goes back to the bench once it is logged.
export async function logForm(device, button, job) {
    await press(device, button);
    const bench = `#/job/${encodeURIComponent(job)}`;
    check(await until(() => device.page.url().endsWith(bench)), `"${button}" leads back to the bench: ${device.page.url()}`);
    await device.settled();
}

export const of = (log, kind) => log.filter((event) => event.event === kind);

// The log holds what was on the screen.
export function loggedPhoto(log, marks) {
    const photo = of(log, "photo_added").at(-1);
    check(photo?.entry, "the photo carries its entry");
    same(
        photo?.marks.marks.map((m) => [m.role, m.name, m.polygon]),
        marks.map((m) => [m.role, m.name, m.polygon]),
        "the log has the marks that were on the screen",
    );
}

// A step board with one dye of that name, its strips drawn one after the other; each is named as they usually lie.
function boxOf({ polygon: [[x, y], , [right, bottom]] }) {
    return [x, y, right - x, bottom - y];
}

export async function markBoard(device, dye = "walnut") {
    const { page } = device;
    const board = JSON.parse(readFileSync(join(tree, "demo", "stepboard-marks.json"), "utf8"));
    await device.open("#/stepboard");
    await page.getByLabel("Photo of the board").setInputFiles(join(tree, "demo", "stepboard.jpg"));
    await until(() => /stepboard\/\w+/.test(page.url()));
    await page.getByRole("button", { name: "Teach it to the shelf" }).waitFor();
    await device.settled();
    await page.getByLabel("Dye", { exact: true }).fill(dye);
    await page.getByLabel("Dye", { exact: true }).blur();
    await page.getByLabel("It looks most like").first().selectOption("brown");
    if (!(await marksOf(device)).some((mark) => mark.role === "card")) {
        const card = board.marks.find((mark) => mark.role === "card");
        await drawBox(device, "Grey card", boxOf(card), board.picture);
    }
    const strips = board.marks.filter((mark) => /^walnut \d$/.test(mark.name));
    await letGo(device);
    await press(device, "Strip", { exact: true });
    for (const strip of strips) {
        const name = strip.name.replace("walnut", dye);
        await toStage(device);
        const [x, y, width, height] = boxOf(strip);
        await drag(
            device,
            await onScreen(device, [x, y], board.picture),
            await onScreen(device, [x + width, y + height], board.picture),
        );
        check(
            await until(async () => (await marksOf(device)).some((mark) => mark.name === name), 5000),
            `${name} is drawn and named`,
        );
    }
}
