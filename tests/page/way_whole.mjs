// The whole way of a repair on the page: a job, its photo, marks by finger, the reading, the plan, laid, undone, photographed
// again, history, report; by a phone, then shorter by a computer on the bench. What the page shows and logs is held against the
// command line and the log on the disk.

import { existsSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { check, command, drag, logOf, long, newDevice, own, press, same, state, tree, until, way } from "./shop.mjs";
import {
    cardIsTheCard,
    choosePhotos,
    drawBox,
    keep,
    letGo,
    logForm,
    loggedPhoto,
    markBoard,
    marksOf,
    of,
    onScreen,
    reading,
    readsAsCommandLine,
    saysYes,
    startJob,
    tapMark,
    toStage,
} from "./walk.mjs";

const demo = (name) => join(tree, "demo", name);
const LID = [1400, 1050];

async function firstPhoto(device, server) {
    const { page } = device;
    const job = await startJob(device, `Cabinet by ${device.kind}`);
    if (device.kind === "phone") await state(device, "choose");
    await choosePhotos(device, demo("cabinet-lid-1.jpg"), { view: "lid", lamp: "shop lamp" });
    check(
        await until(async () => /Mark .*repair.*old wood/.test(await page.locator(".reading").innerText()), 5000),
        "it says what is to be marked",
    );
    const found = await cardIsTheCard(device);
    if (!found && !(await marksOf(device)).some((mark) => mark.role === "card"))
        await drawBox(device, "Grey card", [604, 864, 192, 132], LID);
    await drawBox(device, "Repair", [230, 410, 938, 68], LID, "lid strip");
    await drawBox(device, "Old wood", [234, 204, 932, 182], LID, "upper panel");
    if (device.kind === "phone") await state(device, "marks");
    await drawBox(device, "Old wood", [234, 504, 932, 172], LID, "lower panel");
    const { marks } = await readsAsCommandLine(device, demo("cabinet-lid-1.jpg"), LID);
    same(marks.map((m) => m.role).sort(), ["card", "patch", "target", "target"], "four marks are read");
    return { job, marks };
}

// A corner dragged, and taken back.
async function undoCorner(device) {
    const before = await marksOf(device);
    await tapMark(device, "lid strip", LID);
    const corner = before.find((m) => m.name === "lid strip").polygon[0];
    const from = await onScreen(device, corner, LID);
    await drag(device, from, { x: from.x + 20, y: from.y + 8 });
    const moved = (await marksOf(device)).find((m) => m.name === "lid strip").polygon[0];
    check(Math.hypot(moved[0] - corner[0], moved[1] - corner[1]) > 5, `the corner follows the finger: ${corner} to ${moved}`);
    await reading(device);
    await press(device, "Undo", { exact: true });
    const byName = async () => (await marksOf(device)).sort((a, b) => (a.name < b.name ? -1 : 1)); // the one chosen is drawn last
    same(
        await byName(),
        before.sort((a, b) => (a.name < b.name ? -1 : 1)),
        "undo puts it back",
    );
    await press(device, "Redo", { exact: true });
    same((await marksOf(device)).find((m) => m.name === "lid strip").polygon[0], moved, "redo does it again");
    await press(device, "Undo", { exact: true });
    await letGo(device);
}

// One tap on the repair proposes old wood around it.
async function proposals(device) {
    const { page } = device;
    const before = (await marksOf(device)).length;
    await tapMark(device, "lid strip", LID);
    await press(device, "Propose old wood around it");
    const take = page.getByRole("button", { name: /^Take (all|it)/ });
    await take.waitFor();
    if (device.kind === "phone") await state(device, "proposals");
    const count = (await marksOf(device)).length - before;
    check(count >= 1, `${count} spots of old wood are proposed`);
    await press(device, /^Take (all|it)/);
    await reading(device);
    const sent = JSON.parse(device.sent.filter((one) => one.path.endsWith("/reading")).at(-1).body).marks;
    same(sent.length, before + count, "the spots that were taken are read too");
}

// Whatever happened to it, a reload shows the photo with its marks.
async function reloaded(device, name) {
    const before = await marksOf(device);
    await device.page.reload();
    await device.settled();
    await device.page.getByRole("button", { name: "Keep this photo" }).waitFor();
    await until(async () => (await marksOf(device)).length === before.length, 10000);
    same(await marksOf(device), before, `${name}: the marks are there after a reload`);
}

async function layIt(device, server, job) {
    const { page } = device;
    await press(device, /What to lay next/);
    await device.page.getByRole("button", { name: "Laid it" }).waitFor();
    await device.settled();
    const text = await page.locator("#screen").innerText();
    const plan = of(logOf(server, job), "plan_shown").at(-1);
    check(plan, "that the plan was shown is in the log");
    if (device.kind === "phone") await state(device, "next-step");
    check((await page.locator("img.picture, figure img").count()) >= 1, "it shows what it will look like");
    await press(device, "Laid it", { exact: true });
    await until(() => of(logOf(server, job), "pass_laid").length === 1);
    const pass = of(logOf(server, job), "pass_laid").at(-1);
    same(
        [pass.patches, pass.liquid, pass.passes],
        [["lid strip"], plan.next.liquid, plan.next.passes],
        "what is logged is what was tapped",
    );
    check(new RegExp(`${pass.passes} pass`).test(text), "and what was read");
    const bar = page.locator("#bar");
    await bar.getByRole("button", { name: "Undo" }).waitFor();
    check(/lid strip/.test(await bar.innerText()), `the bar says it: ${await bar.innerText()}`);
    if (device.kind === "phone") await state(device, "laid");
    await press(device, "Undo", { within: bar });
    await until(() => of(logOf(server, job), "correction").length === 1);
    same(of(logOf(server, job), "correction")[0]?.of, pass.number, "undo withdraws it in the log");
    await device.settled();
    await press(device, "Laid it", { exact: true });
    await until(() => of(logOf(server, job), "pass_laid").length === 2);
    same(of(logOf(server, job), "pass_laid").length, 2, "laid again, logged once more");
}

async function recoatTime(device, server, job) {
    const { page } = device;
    await device.open(`#/job/${job}/log?what=settings`);
    await page.getByLabel("Each pass dries for, in minutes").fill("30");
    await press(device, "Save", { exact: true });
    await until(() => logOf(server, job).some((e) => e.recoat_minutes === 30 || JSON.stringify(e).includes('"recoat')));
    await until(() => page.url().endsWith(`#/job/${job}`));
    await device.settled();
    check(/dry at about \d\d:\d\d, (29|30) minutes/i.test(await page.locator("body").innerText()), "the clock counts in words");
}

async function secondPhoto(device, server, job) {
    const { page } = device;
    await press(device, /^Photograph/);
    await until(() => page.url().includes("/new"));
    await device.settled();
    await choosePhotos(device, demo("cabinet-lid-2.jpg"), { view: "lid", lamp: "shop lamp" });
    const marks = await marksOf(device);
    check(
        marks.some((m) => m.name === "lid strip") && marks.some((m) => m.name === "upper panel"),
        `the marks are there already: ${marks.map((m) => m.name)}`,
    );
    await reading(device);
    if (device.kind === "phone") await state(device, "reading-again");
    await saysYes(device);
    await keep(device, job);
    const log = logOf(server, job);
    same(of(log, "photo_added").length, 2, "two photos are in the log");
    check(of(log, "reading").length === 2, "with their readings");
}

async function historyAndReport(device, server, job) {
    const { page } = device;
    await press(device, "History", { exact: true });
    await until(() => page.url().endsWith("/history"));
    await device.settled();
    check((await page.locator("figure img").count()) >= 1, "the path is drawn");
    const alt = await page.locator("figure img").first().getAttribute("alt");
    check(alt.length > 30, `and told in words: ${alt}`);
    await page.goBack();
    await device.settled();
    await press(device, "Report", { exact: true });
    await until(() => page.url().includes("/report"));
    await device.settled();
    const report = page.frameLocator("iframe").locator("h1");
    check((await report.innerText()).length > 3, "the report is shown");
    const [saved] = await Promise.all([page.waitForEvent("download"), press(device, "Save it as a file")]);
    const path = join(own, "report.html");
    await saved.saveAs(path);
    check(/<h1/.test(readFileSync(path, "utf8")), "and saved");
    const [pack] = await Promise.all([page.waitForEvent("download"), press(device, "The whole job as one file")]);
    await pack.saveAs(join(own, `${job}.zip`));
    const unpacked = await command(own, "unpack", join(own, `${job}.zip`), join(own, `${job}-again`)).catch((error) => error);
    check(existsSync(join(own, `${job}-again`, "log.jsonl")), `the pack opens: ${unpacked.message || ""}`);
}

async function daySheet(device, server, job) {
    const { page } = device;
    await device.open(`#/job/${job}/plan`);
    const jar = page.locator(".jar-press").first();
    await jar.waitFor();
    const words = await jar.innerText();
    if (device.kind === "phone") await jar.tap();
    else await jar.click();
    await until(() => of(logOf(server, job), "pass_laid").length === 3);
    const pass = of(logOf(server, job), "pass_laid").at(-1);
    check(
        words.includes(`${pass.passes} pass`) && pass.patches.every((name) => words.includes(name)),
        `the jar that was tapped is logged: ${words}, ${JSON.stringify(pass.patches)}`,
    );
}

async function otherThings(device, server, job) {
    const { page } = device;
    await device.open(`#/job/${job}/log?what=note`);
    await page.getByLabel("Note", { exact: true }).fill("customer comes on Friday");
    await logForm(device, "Log the note", job);
    await until(() => of(logOf(server, job), "note").length === 1);
    same(of(logOf(server, job), "note")[0]?.text, "customer comes on Friday", "the note");
    await device.open(`#/job/${job}/log?what=coat`);
    await logForm(device, "Log the coat", job);
    await until(() => of(logOf(server, job), "coat_laid").length === 1);
    same(of(logOf(server, job), "coat_laid")[0]?.coat, "sealer", "the coat");
    await device.open("#/shelf");
    await page.getByLabel("Name", { exact: true }).fill("old walnut");
    await page.getByLabel("It looks most like").selectOption("brown");
    await press(device, /Put it on the shelf/);
    await until(async () => (await command(own, "shelf", "show")).shelf.dyes.some((dye) => dye.name === "old walnut"));
    check(
        (await command(own, "shelf", "show")).shelf.dyes.some((dye) => dye.name === "old walnut"),
        "the shelf has the dye",
    );
}

async function stepBoard(device, server) {
    const { page } = device;
    await markBoard(device);
    if (device.kind === "phone") await state(device, "stepboard-marked");
    await press(device, "Teach it to the shelf");
    await page.getByRole("heading", { name: "What the board taught" }).waitFor();
    const shelf = (await command(own, "shelf", "show")).shelf.dyes;
    check(
        shelf.some((dye) => dye.name === "walnut" && !dye.guess),
        "the shelf learned walnut from its strips",
    );
}

await way("way_whole", async (start) => {
    const server = await start();
    const phone = await newDevice(server, "phone");
    const { job } = await firstPhoto(phone, server);
    await undoCorner(phone);
    await proposals(phone);
    await state(phone, "reading");
    await reloaded(phone, "before it is kept");
    await readsAsCommandLine(phone, demo("cabinet-lid-1.jpg"), LID).then(async ({ marks }) => {
        await keep(phone, job);
        loggedPhoto(logOf(server, job), marks);
    });
    await state(phone, "bench-read");
    await layIt(phone, server, job);
    await phone.open(`#/job/${job}`);
    await secondPhoto(phone, server, job);
    await daySheet(phone, server, job);
    await recoatTime(phone, server, job);
    await historyAndReport(phone, server, job);
    await otherThings(phone, server, job);
    await stepBoard(phone, server);
    await phone.over();
    const bench = await newDevice(server, "bench");
    const again = await firstPhoto(bench, server);
    await undoCorner(bench);
    await state(bench, "reading");
    if (long) await proposals(bench);
    await keep(bench, again.job);
    if (long) {
        await layIt(bench, server, again.job);
        await bench.open(`#/job/${again.job}`);
        await secondPhoto(bench, server, again.job);
        await historyAndReport(bench, server, again.job);
    }
    await bench.over();
    await server.stop();
});
