// Files and names that are out of the ordinary: several photos at once, HEIC, files that are no photos, an upload that breaks
// off, markup in every name.

import { execFileSync } from "node:child_process";
import { readFileSync, readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { check, logOf, newDevice, own, pause, press, same, state, tree, until, way } from "./shop.mjs";
import { cardIsTheCard, choosePhotos, drawBox, keep, logForm, marksOf, of, saysYes, startJob } from "./walk.mjs";

const LID = [1400, 1050];
const demo = (name) => join(tree, "demo", name);
const MARKUP = "<img src=x onerror=\"document.title='RAN'\"><script>document.title='RAN'</script>";

// Each is looked at in turn; the marks of the first are on the second.
async function severalAtOnce(device, server) {
    const { page } = device;
    const job = await startJob(device, "Several photos");
    await choosePhotos(device, [demo("cabinet-lid-1.jpg"), demo("cabinet-lid-2.jpg")], { view: "lid" });
    if (!(await cardIsTheCard(device))) await drawBox(device, "Grey card", [604, 864, 192, 132], LID);
    await drawBox(device, "Repair", [230, 410, 938, 68], LID, "lid strip");
    await drawBox(device, "Old wood", [234, 204, 932, 182], LID, "upper panel");
    await state(device, "several");
    const first = page.url();
    await press(device, "Keep this photo");
    await until(() => of(logOf(server, job), "photo_added").length === 1);
    check(
        await until(async () => page.url() !== first && (await marksOf(device)).some((mark) => mark.name === "lid strip"), 30000),
        "the next photo is on the bench with its marks",
    );
    await device.settled();
    await saysYes(device);
    await keep(device, job);
    same(
        of(logOf(server, job), "photo_added").map((event) => event.original),
        ["cabinet-lid-1.jpg", "cabinet-lid-2.jpg"],
        "both are in the log, in their order",
    );
}

// HEIC as phones write it, by libheif's own encoder: read, or refused with what to do.
async function heic(device) {
    const { page } = device;
    const png = join(own, "lid.png"),
        file = join(own, "IMG_0001.HEIC");
    execFileSync("/usr/bin/python3", [
        "-c",
        "import cv2, sys; cv2.imwrite(sys.argv[2], cv2.imread(sys.argv[1]))",
        demo("cabinet-lid-1.jpg"),
        png,
    ]);
    execFileSync("heif-enc", ["-q", "90", png, "-o", file], { stdio: "ignore" });
    await startJob(device, "A phone's own format");
    await page.getByLabel("Choose photos").setInputFiles(file);
    const told = await until(async () => {
        const text = await page.locator("#screen").innerText();
        return /Keep this photo/.test(text) || /JPEG/.test(text) ? text : null;
    });
    check(told, "HEIC is read, or the cure is said");
    await device.settled();
    if (/Keep this photo/.test(told)) {
        const size = await page.locator("img.stage-picture").evaluate((e) => [e.naturalWidth > 0, parseFloat(e.style.width)]);
        same(size, [true, LID[0]], "the program's own picture of it is shown, in the photo's pixels");
        await drawBox(device, "Repair", [230, 410, 938, 68], LID, "lid strip");
    }
    await state(device, "heic");
}

async function noPhoto(device) {
    const { page } = device;
    const file = join(own, "holiday.jpg");
    writeFileSync(file, "this is no photo\n");
    const job = await startJob(device, "No photo");
    await page.getByLabel("Choose photos").setInputFiles(file);
    await page.locator(".trouble, [role=alert]").first().waitFor();
    await device.settled();
    const text = await page.locator(".trouble").first().innerText();
    check(text.length > 30, `it says what is wrong and what to do: ${text}`);
    await state(device, "no-photo");
    await press(device, "Drop this one");
    check(await until(() => page.url().endsWith(`#/job/${job}`), 10000), "dropped, and back on the bench");
    await device.settled();
}

// The link breaks in the middle of an upload: nothing of it in the job, and it goes up again.
async function brokenOff(device, server) {
    const { page } = device;
    const job = await startJob(device, "Broken off");
    let cut = 0;
    await page.route("**/api/uploads?**", (route) => {
        cut += 1;
        return cut === 1 ? route.abort("connectionreset") : route.continue();
    });
    await choosePhotos(device, demo("cabinet-lid-1.jpg"));
    check(cut >= 2, "it goes up again by itself");
    same(readdirSync(join(server.folder, job, "photos")), [], "nothing of it is in the job yet");
    same(logOf(server, job).length, 1, "nor in its log");
    await page.unroute("**/api/uploads?**");
}

async function hostileNames(device, server) {
    const { page } = device;
    const job = await startJob(device, MARKUP);
    check((await page.locator("body").innerText()).length > 0 && (await page.title()) !== "RAN", "a title does not run");
    const file = join(own, "<img src=x onerror=alert(1)>.jpg");
    writeFileSync(file, readFileSync(demo("cabinet-lid-1.jpg")));
    await choosePhotos(device, file, { view: "<b onclick=alert(1)>lid</b>", lamp: "<svg onload=alert(1)>" });
    if (!(await cardIsTheCard(device))) await drawBox(device, "Grey card", [604, 864, 192, 132], LID);
    await drawBox(device, "Repair", [230, 410, 938, 68], LID, "<i onclick=alert(1)>strip</i>");
    await drawBox(device, "Old wood", [234, 204, 932, 182], LID, '"><script>alert(1)</script>');
    await keep(device, job);
    await device.open(`#/job/${encodeURIComponent(job)}/log?what=note`);
    await page.getByLabel("Note", { exact: true }).fill(MARKUP);
    await logForm(device, "Log the note", job);
    await until(() => of(logOf(server, job), "note").length === 1);
    same(of(logOf(server, job), "note")[0].text, MARKUP, "the note is kept letter by letter");
    for (const place of [
        "",
        "/plan",
        "/plan/" + encodeURIComponent("<i onclick=alert(1)>strip</i>"),
        "/history",
        "/report",
        "/report?for=shop",
        "/lamps",
        "/log?what=rename",
        "/new",
    ]) {
        await device.open(`#/job/${encodeURIComponent(job)}${place}`);
        await pause(100);
        same(
            await page.evaluate(() => [
                document.title === "RAN",
                document.querySelectorAll("main script, main b, main i, main [onclick], main [onerror]").length,
            ]),
            [false, 0],
            `${place}: names are words`,
        );
    }
    await device.open("#/");
    check((await page.locator("#screen").innerText()).includes("<i onclick=alert(1)>strip</i>"), "they are shown as they are");
    await state(device, "hostile-names");
}

await way("way_odd", async (start) => {
    const server = await start();
    const phone = await newDevice(server, "phone");
    phone.expected.push(/ERR_CONNECTION_RESET|status of 4(00|04|22)|Failed to load resource/);
    await severalAtOnce(phone, server);
    await heic(phone);
    await noPhoto(phone);
    await brokenOff(phone, server);
    await hostileNames(phone, server);
    await phone.over();
    await server.stop();
});
