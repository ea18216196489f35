// Several photos of one state: chosen at once, read as one, kept as one; one that cannot be read with them stays; all of it over
// a lost link too. Held against the command line with the same photos and marks.

import { execFileSync } from "node:child_process";
import { readdirSync } from "node:fs";
import { join } from "node:path";
import { check, command, logOf, newDevice, own, press, same, state, tree, until, way } from "./shop.mjs";
import { cardIsTheCard, choosePhotos, drawBox, marksOf, of, startJob } from "./walk.mjs";

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

const spool = (server) => readdirSync(join(server.folder, ".huewright-page")).filter((name) => /^[0-9a-f]{16}$/.test(name));
const tick = (device, name) => device.page.getByRole("checkbox", { name }).check();
const readingText = (device) => device.page.locator(".reading").innerText();

async function mark(device) {
    if (!(await cardIsTheCard(device))) await drawBox(device, "Grey card", [604, 864, 192, 132], LID);
    await drawBox(device, "Repair", [230, 410, 938, 68], LID, "lid strip");
    await drawBox(device, "Old wood", [234, 204, 932, 182], LID, "upper panel");
    await device.settled();
}

// What the command line reads of the same photos with the same marks.
async function told(device, files, job) {
    const list = join(own, "marks.json");
    const { writeFileSync } = await import("node:fs");
    writeFileSync(list, JSON.stringify({ picture: LID, marks: await marksOf(device) }));
    const read = await command(own, "read", ...files, "--marks", list);
    const gap = read.comparisons.find((one) => one.patch === "lid strip" && one.target === "beside" || one.beside);
    return { read, gap, job };
}

await way("way_together", async (start) => {
    const first = demo("cabinet-lid-1.jpg");
    const server = await start();
    const device = await newDevice(server, "phone");
    const files = [first, shoot("IMG_2.jpg", 0.98, 6, -4, 1), shoot("IMG_3.jpg", 1.015, -9, 5, 2), demo("hall-bench.jpg")];
    const job = await startJob(device, "Three of one state");
    await choosePhotos(device, files, { view: "lid" });
    await mark(device);
    await until(async () => (await device.page.getByRole("checkbox").count()) >= 3);
    console.log(await readingText(device));
    await tick(device, "IMG_2.jpg");
    await tick(device, "IMG_3.jpg");
    await device.settled();
    await tick(device, "hall-bench.jpg");
    console.log(await until(async () => { const t = await readingText(device); return /3 shots/.test(t) ? t : null; }, 20000));
    await device.settled();
    console.log(await device.page.locator("#screen").innerText());
    await state(device, "together");
    await press(device, "Keep these 4 photos");
    await until(() => of(logOf(server, job), "photo_added").length === 1);
    await device.settled();
    console.log(device.page.url(), await device.page.locator("body").innerText());
    console.log(JSON.stringify(of(logOf(server, job), "photo_added").map((e) => [e.original, e.shots?.map((s) => s.original)])), spool(server));
    await state(device, "together-kept");
    await device.over();
    await server.stop();
});
