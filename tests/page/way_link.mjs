// The link is lost while something is logged; the answer is lost; two devices on one job. Whatever was entered is kept, said, and
// logged once.

import { join } from "node:path";
import { check, command, demoJobs, logOf, newDevice, own, pause, press, same, state, until, way } from "./shop.mjs";
import { markBoard, marksOf, of } from "./walk.mjs";

const LOST = /ERR_INTERNET_DISCONNECTED|ERR_FAILED|ERR_CONNECTION|Failed to load resource|Failed to fetch|net::/;
const passes = (server) => of(logOf(server, "front"), "pass_laid");
const outbox = (device) => device.page.locator("#outbox");

async function planOf(device) {
    await device.open("#/help");
    await device.open("#/job/front/plan");
    await device.page.locator(".jar-press").first().waitFor();
    await pause(600); // all screens are fetched behind the first one
    await device.settled();
}

async function tapJar(device) {
    const jar = device.page.locator(".jar-press").first();
    const words = await jar.innerText();
    if (device.kind === "phone") await jar.tap();
    else await jar.click();
    return words;
}

// So that the jar stands there for the next test.
async function takeBack(device, server) {
    const before = of(logOf(server, "front"), "correction").length;
    const bar = device.page.locator("#bar");
    await bar.getByRole("button", { name: "Undo" }).waitFor();
    await press(device, "Undo", { within: bar });
    check(await until(() => of(logOf(server, "front"), "correction").length > before, 10000), "undo takes it back");
    await device.settled();
}

async function lostLink(device, server) {
    const { page, context } = device;
    await planOf(device);
    const before = passes(server).length;
    await context.setOffline(true);
    await tapJar(device);
    await outbox(device)
        .getByText(/Not sent yet/)
        .waitFor();
    check(
        /kept on this device/i.test(await outbox(device).innerText()),
        `it says that it is kept: ${await outbox(device).innerText()}`,
    );
    check(/No link/.test(await page.locator("#link").innerText()), "the head says that there is no link");
    await state(device, "no-link");
    same(passes(server).length, before, "nothing is logged meanwhile");
    await context.setOffline(false);
    check(await until(() => passes(server).length > before, 15000), "it goes out by itself");
    await until(async () => !(await outbox(device).isVisible()), 10000);
    check(!(await outbox(device).isVisible()), "and the page no longer says so");
    await pause(4500); // a retry would be due
    same(passes(server).length, before + 1, "once");
    check(/^\S{16,40}$/.test(passes(server).at(-1).entry || ""), "with its entry");
    await takeBack(device, server);
}

// Only what logs is cut off, so that the page itself can be loaded anew.
async function reloadBetween(device, server) {
    const { page } = device;
    const before = passes(server).length;
    await planOf(device);
    await page.route("**/passes", (route) => route.abort());
    await tapJar(device);
    await outbox(device)
        .getByText(/Not sent yet/)
        .waitFor();
    await page.reload();
    await device.settled();
    check(await until(async () => /Not sent yet/.test(await outbox(device).innerText()), 10000), "it waits after a reload too");
    same(passes(server).length, before, "nothing is logged meanwhile");
    await page.unroute("**/passes");
    if (
        await outbox(device)
            .getByRole("button", { name: "Send now" })
            .isVisible()
            .catch(() => false)
    )
        await press(device, "Send now");
    check(await until(() => passes(server).length > before, 15000), "it goes out after the reload");
    await pause(1000);
    same(passes(server).length, before + 1, "once");
    await takeBack(device, server);
}

// The program logged it, but its answer never came: sent again, logged once.
async function lostAnswer(device, server) {
    const { page } = device;
    const before = passes(server).length;
    await planOf(device);
    let cut = 0;
    const sent = () => device.sent.filter((one) => one.path.endsWith("/passes"));
    const earlier = sent().length;
    await page.route("**/passes", async (route) => {
        if (cut) return route.continue();
        cut += 1;
        await route.fetch();
        return route.abort("connectionreset");
    });
    await tapJar(device);
    check(await until(() => passes(server).length === before + 1, 15000), "the program logged it");
    await until(async () => !(await outbox(device).isVisible()) && sent().length >= earlier + 2, 15000);
    const bodies = sent()
        .slice(earlier)
        .map((one) => JSON.parse(one.body).entry);
    check(bodies.length === 2 && bodies[0] === bodies[1], `it is sent again under the same entry: ${bodies}`);
    await pause(500);
    same(passes(server).length, before + 1, "and logged once");
    await page.unroute("**/passes");
    await takeBack(device, server);
}

// A form half filled in when the link goes, and when the page is loaded anew.
async function halfWritten(device) {
    const { page } = device;
    await device.open("#/job/front/log?what=note");
    await page.getByLabel("Note", { exact: true }).fill("half a sentence");
    await pause(300);
    await page.reload();
    await device.settled();
    await until(async () => (await page.getByLabel("Note", { exact: true }).inputValue()) === "half a sentence", 5000);
    same(
        await page.getByLabel("Note", { exact: true }).inputValue(),
        "half a sentence",
        "what was half written is there after a reload",
    );
}

// A step board whose answer is lost, and lost again: what was marked and typed is there after a reload, it goes out again under the
// same entry, and what it taught is told though its photo is gone.
async function lostBoard(device, server) {
    const { page } = device;
    await markBoard(device, "old walnut");
    const drawn = (await marksOf(device)).map((mark) => mark.name);
    await page.getByLabel("How full strength is made").fill("0.5 %");
    await page.getByLabel("Note").fill("on maple");
    const noted = async () => (await device.stored("marks")).some((one) => one.said?.note === "on maple");
    check(await until(noted, 2000), "what is typed is put down at once"); // a hand is not as quick to load the page anew
    await page.reload();
    await page.getByRole("button", { name: "Teach it to the shelf" }).waitFor();
    check(await until(async () => (await marksOf(device)).length === drawn.length, 10000), "all marks are there after a reload");
    same((await marksOf(device)).map((mark) => mark.name).join(), drawn.join(), "under their names");
    same(await page.getByLabel("Dye", { exact: true }).inputValue(), "old walnut", "so is the dye");
    same(await page.getByLabel("It looks most like").first().inputValue(), "brown", "what it looks like");
    same(await page.getByLabel("How full strength is made").inputValue(), "0.5 %", "how it is made");
    same(await page.getByLabel("Note").inputValue(), "on maple", "and the note");

    let cut = 0;
    await page.route("**/stepboard", async (route) => {
        cut += 1;
        if (cut === 1) await route.fetch();
        return route.abort("connectionreset");
    });
    const sent = () => device.sent.filter((one) => one.path.endsWith("/stepboard"));
    await press(device, "Teach it to the shelf");
    await page.getByText(/No answer yet/).waitFor();
    check(!(await page.getByRole("button", { name: "Teach it to the shelf" }).isVisible()), "it is not taught twice by hand");
    check(/Not sent yet: the step board of old walnut/.test(await outbox(device).innerText()), "and the page says it at the top");
    await state(device, "stepboard-waits");
    const known = async () => (await command(own, "shelf", "show")).shelf.dyes.filter((dye) => dye.name === "old walnut");
    same((await known()).length, 1, "the shelf learned it");
    const learned = JSON.stringify(await known());
    await page.reload();
    await page.getByRole("heading", { name: "The board is on its way" }).waitFor();
    await state(device, "stepboard-gone");
    await page.unroute("**/stepboard");
    await page.getByRole("heading", { name: "What the board taught" }).waitFor({ timeout: 15000 });
    check(/only the answer was lost/.test(await page.locator("#screen").innerText()), "it says that it had arrived");
    check(/By 5 strips/.test(await page.locator("#screen").innerText()), "and what it taught");
    await state(device, "stepboard-again");
    const entries = new Set(sent().map((one) => JSON.parse(one.body).entry));
    check(sent().length >= 3 && entries.size === 1, `sent ${sent().length} times under ${[...entries]}`);
    same(JSON.stringify(await known()), learned, "and put on the shelf once");
    await until(async () => !(await outbox(device).isVisible()), 5000);
    await page.reload();
    await page.getByRole("heading", { name: "What the board taught" }).waitFor();
    const forgotten = async () => !(await device.stored("photos")).some((one) => one.view === "step board");
    check(await until(forgotten, 5000), "the device holds its photo no more");
}

// Two devices: what one logs the other sees; what was not seen is asked about before one more is laid on top.
async function twoDevices(phone, bench, server) {
    await phone.open("#/job/front");
    await phone.page.locator("#bar, .repair").first().waitFor();
    await planOf(bench);
    const before = passes(server).length;
    await tapJar(bench);
    await until(() => passes(server).length === before + 1);
    check(
        await until(async () => /Changed on another device/.test(await phone.page.locator("body").innerText()), 15000),
        "the other device says that something changed",
    );
    await state(phone, "changed");
    // The phone has a plan before it, and hears nothing of what the bench logs meanwhile.
    await planOf(phone);
    await phone.page.route("**/last", (route) => route.abort());
    const jar = await phone.page.locator(".jar-press").first().innerText();
    const part = jar
        .match(/ on (.+)/)[1]
        .split(/,|\n/)[0]
        .trim();
    await bench.open("#/help");
    await bench.open("#/job/front/log?what=pass");
    await bench.page.getByLabel(part, { exact: true }).check();
    await press(bench, "Log it", { exact: true });
    check(await until(() => passes(server).length === before + 2), `the bench lays on ${part} meanwhile`);
    await tapJar(phone);
    await phone.page.getByRole("button", { name: "Log mine as well" }).waitFor();
    same(passes(server).length, before + 2, "nothing is laid on top unasked");
    check(
        (await outbox(phone).innerText()).includes(part),
        `it says what was logged meanwhile: ${await outbox(phone).innerText()}`,
    );
    await state(phone, "moved-on");
    await press(phone, "Drop mine");
    await until(async () => !(await outbox(phone).isVisible()), 5000);
    same(passes(server).length, before + 2, "dropped: nothing more is logged");
    await phone.page.unroute("**/last");
}

await way("way_link", async (start) => {
    await demoJobs(join(own, "jobs"));
    const server = await start();
    const phone = await newDevice(server, "phone");
    phone.expected.push(LOST);
    await lostLink(phone, server);
    await reloadBetween(phone, server);
    await lostAnswer(phone, server);
    await halfWritten(phone);
    await lostBoard(phone, server);
    const bench = await newDevice(server, "bench");
    bench.expected.push(LOST);
    await twoDevices(phone, bench, server);
    await phone.over();
    await bench.over();
    await server.stop();
});
