// What the tests of the page share: the built program as a server on a folder of its own, Chromium as a phone or as a
// computer on the bench, fingers, and what must hold in every state of the page.
//
//   node WAY.mjs PROGRAM SOURCE_TREE OWN_FOLDER [--long] [--shots FOLDER] [--lan]

import { spawn } from "node:child_process";
import { mkdirSync, readFileSync, rmSync, existsSync } from "node:fs";
import { createRequire } from "node:module";
import { resolve, join } from "node:path";
import { chromium } from "playwright-core";

const words = process.argv.slice(2);
const option = (name) => {
    const at = words.indexOf(name);
    return at < 0 ? null : words[at + 1];
};
export const program = resolve(words[0]);
export const tree = resolve(words[1]);
export const own = resolve(words[2]);
export const long = words.includes("--long");
const shots = option("--shots");
export const PATIENCE_MS = 60000; // for a sanitized program on a busy computer
const AXE = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

// ---- Checks ------------------------------------------------------------------------

let passed = 0;
const failures = [];

export function check(good, what) {
    if (good) passed += 1;
    else {
        failures.push(what);
        console.log(`failed: ${what}`);
    }
    return Boolean(good);
}

export function same(got, wanted, what) {
    const [a, b] = [JSON.stringify(got), JSON.stringify(wanted)];
    return check(a === b, `${what}: ${String(a).slice(0, 400)}, wanted ${String(b).slice(0, 400)}`);
}

// Waits until call() is truthy and gives that; null after `ms`.
export async function until(call, ms = PATIENCE_MS) {
    const end = Date.now() + ms;
    for (;;) {
        const got = await call();
        if (got) return got;
        if (Date.now() > end) return null;
        await new Promise((done) => setTimeout(done, 30));
    }
}

// ---- The program -------------------------------------------------------------------

export class Server {
    // lan: over an address that others reach, paired by code. folder: what it serves.
    constructor(folder, data, { lan = false, port = 0 } = {}) {
        Object.assign(this, { folder, data, lan, out: "", err: "" });
        mkdirSync(folder, { recursive: true });
        const arguments_ = ["page", ...(lan ? ["--lan"] : []), ...(port ? ["--port", String(port)] : []), folder];
        this.process = spawn(program, arguments_, { env: { ...process.env, XDG_DATA_HOME: data }, stdio: ["ignore", "pipe", "pipe"] });
        this.process.stdout.on("data", (text) => { this.out += text; });
        this.process.stderr.on("data", (text) => { this.err += text; });
        this.ended = new Promise((done) => { this.process.on("exit", (code) => done(code)); });
    }

    async ready() {
        const told = this.lan ? /^In your network: +(http:\/\/\S+:\d+)\/#/m : /^(http:\/\/\S+:\d+)\/\s*$/m;
        const line = await until(() => this.out.match(told) || this.process.exitCode !== null, PATIENCE_MS);
        if (!line || line === true) throw new Error(`the server did not start: ${this.out} ${this.err}`);
        this.origin = line[1];
        this.port = Number(new URL(this.origin).port);
        return this;
    }

    // The newest code that it printed.
    code() { return [...this.out.matchAll(/#pair=([A-Za-z0-9]+)/g)].at(-1)?.[1]; }

    async stop() {
        this.process.kill("SIGTERM");
        const late = setTimeout(() => this.process.kill("SIGKILL"), PATIENCE_MS);
        const code = await this.ended;
        clearTimeout(late);
        check(code === 0, `the server stops with ${code}: ${this.err.slice(0, 2000)}`);
        check(!/Sanitizer|runtime error/.test(this.err), `the server said: ${this.err.slice(0, 3000)}`);
    }
}

// One command of the program in that folder, its JSON.
export function command(folder, ...arguments_) {
    return new Promise((done, failed) => {
        const process_ = spawn(program, [...arguments_, "--json"], { cwd: folder, env: { ...process.env, XDG_DATA_HOME: join(own, "data") } });
        let out = "", err = "";
        process_.stdout.on("data", (text) => { out += text; });
        process_.stderr.on("data", (text) => { err += text; });
        process_.on("exit", (code) => (code === 0 ? done(JSON.parse(out)) : failed(new Error(`${arguments_.join(" ")}: ${code} ${err}`))));
    });
}

// The demo's cabinet as a shop has it after two days: photographed, a pass, photographed again, a note; and its front with five
// repairs. Made by the command line.
export async function demoJobs(folder) {
    mkdirSync(folder, { recursive: true });
    const demo = (name) => join(tree, "demo", name);
    await command(folder, "start", "cabinet", "--title", "Walnut gramophone cabinet");
    await command(folder, "photo", "cabinet", demo("cabinet-lid-1.jpg"), "--marks", demo("cabinet-lid-1-marks.json"), "--view", "lid", "--lamp", "shop lamp", "--state", "lid strip=sealed");
    await command(folder, "pass", "cabinet", "--patch", "lid strip", "--dye", "red=1/4", "--dye", "black=1/2", "--passes", "1");
    await command(folder, "photo", "cabinet", demo("cabinet-lid-2.jpg"), "--view", "lid", "--lamp", "shop lamp", "--state", "lid strip=sealed");
    await command(folder, "note", "cabinet", "customer comes on Friday");
    await command(folder, "start", "front", "--title", "Walnut gramophone cabinet, front");
    await command(folder, "photo", "front", demo("cabinet-front.jpg"), "--marks", demo("cabinet-front-marks.json"), "--view", "front", "--lamp", "shop lamp");
    await command(folder, "set", "front", "--coats", "2", "--over", "all", "--recoat", "30", "--card-size", "11x8cm");
    await command(folder, "jar", "front", "--dye", "red=1/4", "--dye", "black=1/2", "--volume", "4 fl oz");
    await command(folder, "pass", "front", "--patch", "cornice piece", "--jar", "1", "--passes", "1", "--hours", "0.5");
}

// The log of a job as it lies on the disk.
export function logOf(server, job) {
    return readFileSync(join(server.folder, job, "log.jsonl"), "utf8").trim().split("\n").map((line) => JSON.parse(line));
}

// ---- Devices -----------------------------------------------------------------------

const PHONE = { viewport: { width: 360, height: 740 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 };
const BENCH = { viewport: { width: 1280, height: 800 } };
let browser = null;

export async function openBrowser() {
    browser = browser || await chromium.launch({ executablePath: "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu"] });
    return browser;
}

// A browser of its own with one tab: device.page. What it must not do is watched: device.over() checks it.
export async function newDevice(server, kind, { paired = true } = {}) {
    const context = await (await openBrowser()).newContext({ ...(kind === "phone" ? PHONE : BENCH), colorScheme: "light",
        serviceWorkers: "block", acceptDownloads: true });
    context.setDefaultTimeout(PATIENCE_MS);
    const page = await context.newPage();
    const device = { kind, context, page, server, wrong: [], sent: [], expected: [] };
    await page.addInitScript(() => {
        addEventListener("securitypolicyviolation", (event) => console.error(`policy: ${event.violatedDirective} ${event.blockedURI}`));
    });
    page.on("console", (message) => { if (message.type() === "error") device.wrong.push(`console: ${message.text()} ${message.location().url || ""}`); });
    page.on("pageerror", (error) => device.wrong.push(`error: ${error.stack || error}`));
    page.on("dialog", async (dialog) => { device.wrong.push(`dialog: ${dialog.message()}`); await dialog.dismiss(); });
    page.on("request", (request) => {
        const url = new URL(request.url());
        if (!["data:", "blob:"].includes(url.protocol) && url.origin !== server.origin) device.wrong.push(`asks elsewhere: ${url}`);
        if (request.method() !== "GET" && url.pathname.startsWith("/api/")) device.sent.push({ method: request.method(), path: decodeURI(url.pathname), body: request.postData() });
    });
    let asked = 0, quiet = Date.now();
    page.on("request", () => { asked += 1; });
    for (const over of ["requestfinished", "requestfailed"]) page.on(over, () => { asked -= 1; quiet = Date.now(); });
    page.on("framenavigated", (frame) => { if (frame === page.mainFrame()) quiet = Date.now(); });
    // The state stands: all that was asked is answered, and nothing says "One moment".
    device.settled = () => until(async () => asked <= 0 && Date.now() - quiet > 120
        && await page.evaluate(() => document.querySelector("#screen > *") && ![...document.querySelectorAll(".waiting")].some((e) => e.checkVisibility())).catch(() => false));
    device.touch = await context.newCDPSession(page);
    // Goes to a state by its address, as a link or a bookmark does.
    device.open = async (address) => {
        if (page.url().startsWith(server.origin)) await page.evaluate((hash) => { location.hash = hash; }, address);
        else await page.goto(`${server.origin}/${address}`);
        await pause(50);
        await device.settled();
    };
    // By the link of the QR code, which pairs by itself.
    device.pair = async () => {
        await page.goto(`${server.origin}/#pair=${server.code()}`);
        await until(async () => !page.url().includes("pair"), 20000);
        await device.settled();
    };
    if (server.lan && paired) await device.pair();
    // `expected`: patterns of errors that the test brought about itself (a lost link is one on the console of any page).
    device.over = async () => {
        const wrong = device.wrong.filter((line) => !device.expected.some((pattern) => pattern.test(line)));
        check(wrong.length === 0, `${kind}: ${[...new Set(wrong)].slice(0, 8).join("\n    ")}`);
        check(await page.title() !== "RAN", `${kind}: a name ran`);
        await context.close();
    };
    return device;
}

export async function end() {
    await browser?.close();
    console.log(`${passed} passed, ${failures.length} failed`);
    process.exitCode = failures.length || !passed ? 1 : 0;
}

// Runs the way; what it throws is a failure, and no server is left behind.
export async function way(name, walk) {
    rmSync(own, { recursive: true, force: true });
    mkdirSync(own, { recursive: true });
    const servers = [];
    const begun = Date.now();
    const start = async (options = {}) => {
        const server = new Server(options.folder || join(own, "jobs"), join(own, "data"), { lan: words.includes("--lan"), ...options });
        servers.push(server);
        return server.ready();
    };
    try {
        await walk(start);
    } catch (error) {
        check(false, `${name}: ${error.stack || error}`);
        for (const page of browser?.contexts().flatMap((context) => context.pages()) || []) {
            console.log(`  at ${page.url()}: ${(await page.locator("body").innerText().catch(() => "?")).slice(0, 1500)}`);
            if (shots) await page.screenshot({ path: join(shots, `failed-${name}.png`) }).catch(() => {});
        }
    }
    for (const server of servers) if (server.process.exitCode === null) server.process.kill("SIGKILL");
    console.log(`${name}: ${((Date.now() - begun) / 1000).toFixed(1)} s`);
    await end();
}

// ---- Fingers -----------------------------------------------------------------------

// A tap so soon after a stroke or while the page still scrolls is none to a browser, as it would be none of a hand.
const SETTLE_MS = 150;
const pause = (ms) => new Promise((done) => setTimeout(done, ms));

// A press at `from`, moved over the further places in small steps, let go: a finger on the phone, else the mouse.
export async function drag(device, from, ...further) {
    const places = [from];
    for (const to of further) {
        const last = places.at(-1);
        for (let i = 1; i <= 6; i += 1) places.push({ x: last.x + (to.x - last.x) * i / 6, y: last.y + (to.y - last.y) * i / 6 });
    }
    if (device.kind === "phone") {
        const send = (type, place) => device.touch.send("Input.dispatchTouchEvent", { type, touchPoints: place ? [place] : [] });
        await send("touchStart", places[0]);
        for (const place of places.slice(1)) await send("touchMove", place);
        await send("touchEnd", null);
        await pause(SETTLE_MS);
    } else {
        await device.page.mouse.move(places[0].x, places[0].y);
        await device.page.mouse.down();
        for (const place of places.slice(1)) await device.page.mouse.move(place.x, place.y);
        await device.page.mouse.up();
    }
    await pause(30);
}

export async function tap(device, place) {
    if (device.kind === "phone") await device.page.touchscreen.tap(place.x, place.y);
    else await device.page.mouse.click(place.x, place.y);
    await pause(30);
}

// Two fingers about a middle, `from` to `to` pixels apart, the middle moved by `by`.
export async function pinch(device, middle, from, to, by = { x: 0, y: 0 }) {
    const fingers = (part) => {
        const [x, y, half] = [middle.x + by.x * part, middle.y + by.y * part, (from + (to - from) * part) / 2];
        return [{ x: x - half, y, id: 0 }, { x: x + half, y, id: 1 }];
    };
    const send = (type, touchPoints) => device.touch.send("Input.dispatchTouchEvent", { type, touchPoints });
    await send("touchStart", fingers(0));
    for (let i = 1; i <= 8; i += 1) await send("touchMove", fingers(i / 8));
    await send("touchEnd", []);
    await pause(50);
}

// Presses what bears these words: a button or a link.
export async function press(device, name, { within = device.page, exact = false } = {}) {
    const target = within.getByRole("button", { name, exact }).or(within.getByRole("link", { name, exact })).first();
    await target.scrollIntoViewIfNeeded();
    if (device.kind === "phone") await pause(SETTLE_MS);
    if (device.kind === "phone") await target.tap();
    else await target.click();
}

// ---- What holds in every state -----------------------------------------------------

const RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];

async function look(device, name) {
    const { page } = device;
    if (!await page.evaluate(() => Boolean(window.axe))) await page.evaluate(AXE);
    const result = await page.evaluate((tags) => window.axe.run(document, { runOnly: { type: "tag", values: tags }, resultTypes: ["violations"] }), RULES);
    check(result.passes.length > 5, `${name}: axe looked at something`);
    for (const violation of result.violations) {
        const where = violation.nodes.slice(0, 3).map((node) => `${node.target} ${node.html.slice(0, 100)} ${node.any.map((a) => a.message).join(" ").slice(0, 160)}`);
        check(false, `${name}: axe: ${violation.id}: ${where.join(" | ")}`);
    }
}

// WCAG 2.2: 1.4.10 (nothing to scroll sideways at 320 px, so none at 360), 1.4.4 (text at 200 %), 2.5.8 says 24 px; 48 is chosen
// for a gloved thumb.
async function fits(device, name) {
    const { page } = device;
    const wide = await page.evaluate(() => {
        const inner = document.documentElement.clientWidth;
        const past = [...document.querySelectorAll("body *")].filter((e) => {
            const box = e.getBoundingClientRect();
            return box.width && box.right > inner + 1 && !e.closest("svg, .frame, iframe, [data-scrolls]");
        });
        return { inner, scroll: document.documentElement.scrollWidth, past: past.slice(0, 3).map((e) => e.outerHTML.slice(0, 120)) };
    });
    check(wide.scroll <= wide.inner, `${name}: ${wide.scroll} px wide on ${wide.inner}: ${wide.past.join(" | ")}`);
}

async function thumbs(device, name) {
    const small = await device.page.evaluate(() => [...document.querySelectorAll("button, a.press, input, select, textarea, summary, label.choice")]
        .filter((e) => e.checkVisibility({ opacityProperty: true, visibilityProperty: true }))
        .map((e) => [e, (e.closest("label") || e).getBoundingClientRect()])
        .filter(([e, box]) => box.width > 2 && (box.height < 48 - 0.5 || box.width < 48 - 0.5) && !e.classList.contains("skip"))
        .map(([e, box]) => `${Math.round(box.width)}x${Math.round(box.height)} ${e.outerHTML.slice(0, 90)}`));
    check(small.length === 0, `${name}: too small for a thumb: ${small.slice(0, 4).join(" | ")}`);
}

// Everything that holds in each state: axe in light and dark, no scrolling sideways, at 200 % text too, targets for a thumb.
export async function state(device, name) {
    const { page } = device;
    const label = `${name} (${device.kind})`;
    if (shots) mkdirSync(shots, { recursive: true });
    for (const colorScheme of ["light", "dark"]) {
        await page.emulateMedia({ colorScheme });
        await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
        await look(device, `${label}, ${colorScheme}`);
        if (shots) await page.screenshot({ path: join(shots, `${name}-${device.kind}-${colorScheme}.png`), fullPage: true });
    }
    await page.emulateMedia({ colorScheme: "light" });
    await fits(device, label);
    await thumbs(device, label);
    await page.evaluate(() => { document.documentElement.style.fontSize = "200%"; });
    await fits(device, `${label}, text at 200 %`);
    if (shots && device.kind === "phone") await page.screenshot({ path: join(shots, `${name}-${device.kind}-200.png`), fullPage: true });
    await page.evaluate(() => { document.documentElement.style.fontSize = ""; });
}

export { existsSync, join, pause, readFileSync };
