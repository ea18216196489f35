// Several photos of one state: chosen at once, read as one, kept as one; one that cannot be read with them stays; all of it over
// a lost link too. Held against the command line with the same photos and marks.

import { execFileSync } from "node:child_process";
import { readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { check, logOf, newDevice, own, press, program, same, state, tree, until, way } from "./shop.mjs";
import { cardIsTheCard, choosePhotos, drawBox, marksOf, of, saysYes, startJob } from "./walk.mjs";

const LID = [1400, 1050];
const demo = (name) => join(tree, "demo", name);

// The demo's lid photographed again: a little to the side, exposed otherwise, with the noise of another shot. By OpenCV.
const SHOOT = `
import cv2, numpy, sys
source, target, gain, right, down, seed = sys.argv[1:]
picture = cv2.imread(source)
moved = cv2.warpAffine(picture, numpy.float32([[1, 0, float(right)], [0, 1, float(down)]]), picture.shape[1::-1],
                       flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
noise = numpy.random.default_rng(int(seed)).normal(0, 1.5, picture.shape)
shot = numpy.clip(moved * float(gain) + noise, 0, 255).astype(numpy.uint8)
cv2.imwrite(target, shot, [cv2.IMWRITE_JPEG_QUALITY, 93])
`;
function shoot(name, gain, right, down, seed) {
    const file = join(own, name);
    execFileSync("/usr/bin/python3", ["-c", SHOOT, demo("cabinet-lid-1.jpg"), file, gain, right, down, seed].map(String));
    return file;
}

const waiting = (server) =>
    readdirSync(join(server.folder, ".huewright-page")).filter((name) => /^[0-9a-f]{16}$/.test(name)).length;
const tick = (device, name) => device.page.getByRole("checkbox", { name }).check();
const readingText = (device) => device.page.locator(".reading").innerText();
const outboxText = (device) => device.page.locator("#outbox").innerText();
const shotsOf = (event) => [event.original, ...(event.shots || []).map((shot) => shot.original)];

async function choose(device, files) {
    await choosePhotos(device, files, { view: "lid" });
    await until(async () => (await device.page.getByRole("checkbox").count()) === files.length - 1);
    check((await device.page.getByRole("checkbox").count()) === files.length - 1, "the others are offered");
    check((await device.page.getByRole("checkbox", { checked: true }).count()) === 0, "and none is taken unasked");
}

// Ticks them and waits until they are read as one; the reading is the command line's of the same photos and marks.
async function readAsOne(device, names, files) {
    for (const name of names) await tick(device, name);
    const words = `${names.length + 1} shots agree within`;
    const text = await until(async () => ((await readingText(device)).includes(words) ? readingText(device) : null), 20000);
    if (!check(text, `"${words}" is said: ${await readingText(device)}`)) return;
    await device.settled();
    const list = join(own, "marks.json");
    writeFileSync(list, JSON.stringify({ picture: LID, marks: await marksOf(device) }));
    const told = execFileSync(program, ["read", ...files, "--marks", list], {
        env: { ...process.env, XDG_DATA_HOME: join(own, "data") },
    }).toString();
    for (const line of [/gap to the old wood ([^;]+);/, /(\d shots agree within [\d.]+)/, /(lighter by [\d.]+ ± [\d.]+)/])
        check(text.includes(line.exec(told)?.[1] || "\0"), `as the command line reads them: ${line.exec(told)?.[1]} in ${text}`);
}

async function mark(device) {
    if (!(await cardIsTheCard(device))) await drawBox(device, "Grey card", [604, 864, 192, 132], LID);
    await drawBox(device, "Repair", [230, 410, 938, 68], LID, "lid strip");
    await drawBox(device, "Old wood", [234, 204, 932, 182], LID, "upper panel");
    await device.settled();
}

// The first photo of a job, with marks drawn by hand, two more of the same state, and one of another piece.
async function firstPhotos(device, server, job, files) {
    await choose(device, files);
    await mark(device);
    check(!/shots/.test(await readingText(device)), "alone it is one photo");
    await readAsOne(device, ["IMG_2.jpg", "IMG_3.jpg"], files.slice(0, 3));
    await tick(device, "hall-bench.jpg");
    await until(async () => /hall-bench.jpg\) is left out/.test(await device.page.locator(".wrong-photo").textContent()), 20000);
    check(/3 shots agree/.test(await readingText(device)), "one that shows another piece is named, and left out");
    await state(device, "together");
    await elsewhere(await newDevice(server, "bench"), new URL(device.page.url()).hash);
    // What was ticked is there after a reload.
    await device.page.reload();
    await device.settled();
    await device.page.getByRole("button", { name: "Keep these 4 photos" }).waitFor();
    await press(device, "Keep these 4 photos");
    await until(() => of(logOf(server, job), "photo_added").length === 1);
    await device.settled();
    same(
        of(logOf(server, job), "photo_added").map(shotsOf),
        [["cabinet-lid-1.jpg", "IMG_2.jpg", "IMG_3.jpg"]],
        "one photo of three shots is in the log",
    );
    check(/could not be read with the others/.test(await outboxText(device)), `what stays is said: ${await outboxText(device)}`);
    same(waiting(server), 1, "the one that could not be read with them waits as before");
    await state(device, "together-kept");
    await press(device, "I have read it");
    check(!(await device.page.locator("#outbox").isVisible()), "what was read is put away");
    check(/hall-bench.jpg/.test(await device.page.locator("h1").innerText()), "and the one that waits is on the bench");
    await press(device, "Drop it");
    await press(device, "Yes, drop it");
    await until(() => device.page.url().endsWith(`#/job/${job}`));
    await device.settled();
}

// A computer beside the phone, which has none of the files: the same photos are offered there, and what was ticked is read so after
// a reload.
async function elsewhere(device, address) {
    const { page } = device;
    await device.open(address);
    await page.getByRole("checkbox", { name: "hall-bench.jpg" }).waitFor();
    same(await page.getByRole("checkbox").count(), 3, "the others are offered on another device");
    await mark(device);
    check(/What it shows: lid/.test(await page.locator("#screen").innerText()), "as of the side that the phone said");
    await tick(device, "IMG_2.jpg");
    await page.getByRole("button", { name: "Keep these 2 photos" }).waitFor();
    await until(async () => (await device.stored("marks")).some((one) => one.more?.length === 1));
    await page.reload();
    await page.getByRole("button", { name: "Keep these 2 photos" }).waitFor();
    check(await page.getByRole("checkbox", { name: "IMG_2.jpg" }).isChecked(), "the tick is there after a reload");
    check(await until(async () => /2 shots agree/.test(await readingText(device)), 20000), "and it is read so");
    await device.over();
}

// The answer to keeping them is lost, and lost again: they are in the job once, and nothing else is said of them.
async function overALostLink(device, server, job, files) {
    const { page } = device;
    await press(device, "Photograph", { exact: true });
    await device.settled();
    await choose(device, files);
    await device.settled();
    await saysYes(device);
    await readAsOne(device, ["IMG_5.jpg"], files);
    let cut = 1;
    await page.route("**/keep", async (route) => {
        if (!cut) return route.continue();
        if (cut++ === 1) await route.fetch();
        return route.abort();
    });
    await press(device, "Keep these 2 photos");
    await until(async () => /Not sent yet/.test(await outboxText(device)));
    check(/IMG_4.jpg and 1 more/.test(await outboxText(device)), `both are named: ${await outboxText(device)}`);
    await until(() => page.url().endsWith(`#/job/${job}`)); // their photo stands at the program no more
    await page.reload();
    await device.settled();
    check(/Not sent yet/.test(await outboxText(device)), "it waits after a reload too");
    cut = 0;
    check(await until(async () => !(await device.stored("outbox")).length, 20000), "it goes out by itself");
    same(of(logOf(server, job), "photo_added").length, 2, "it is logged once");
    same(of(logOf(server, job), "photo_added").map(shotsOf).at(-1), ["IMG_4.jpg", "IMG_5.jpg"], "as one photo");
    check(await until(() => waiting(server) === 0, 10000), "and none of them waits");
    check(!/could not be read/.test(await outboxText(device)), `nor is said to: ${await outboxText(device)}`);
    await device.open(`#/job/${job}/new`);
    await device.settled();
    check(!/IMG_[45]/.test(await page.locator("#screen").innerText()), "this device holds none of them any more");
}

await way("way_together", async (start) => {
    const server = await start();
    const device = await newDevice(server, "phone");
    device.expected.push(/ERR_FAILED/);
    const first = demo("cabinet-lid-1.jpg");
    const files = [first, shoot("IMG_2.jpg", 0.98, 6, -4, 1), shoot("IMG_3.jpg", 1.015, -9, 5, 2), demo("hall-bench.jpg")];
    const job = await startJob(device, "Three of one state");
    await firstPhotos(device, server, job, files);
    const later = [shoot("IMG_4.jpg", 0.99, -3, 2, 3), shoot("IMG_5.jpg", 1.01, 4, 4, 4)];
    await overALostLink(device, server, job, later);
    await device.over();
    await server.stop();
});
