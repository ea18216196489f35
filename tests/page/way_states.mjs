// Every state of the page that an address leads to, on jobs that the command line made: at both sizes, in light and dark, with
// large letters, back, forward and reload.

import { join } from "node:path";
import { check, command, demoJobs, long, newDevice, own, press, same, state, until, way } from "./shop.mjs";

const STATES = {
    jobs: "#/",
    help: "#/help",
    shelf: "#/shelf",
    stepboard: "#/stepboard",
    pair: "#/pair",
    bench: "#/job/cabinet",
    "bench-of-five": "#/job/front",
    empty: "#/job/empty",
    new: "#/job/cabinet/new",
    plan: "#/job/front/plan",
    next: "#/job/cabinet/plan/lid%20strip",
    log: "#/job/cabinet/log",
    history: "#/job/cabinet/history",
    lamps: "#/job/cabinet/lamps",
    report: "#/job/cabinet/report",
    "report-shop": "#/job/cabinet/report?for=shop",
    photo: "#/job/cabinet/photo/2",
    "plan-of-nothing": "#/job/empty/plan",
    "no-such-job": "#/job/nowhere",
    "no-such-page": "#/what/is/this",
    "no-such-photo": "#/job/cabinet/photo/77",
};
for (const what of ["pass", "coat", "takeoff", "jar", "note", "approval", "settings", "rename"])
    STATES[`log-${what}`] = `#/job/cabinet/log?what=${what}`;

// Where a refusal of the program is what is to be shown, its status stands on the console of any browser.
const REFUSED = /Failed to load resource: the server responded with a status of 4\d\d/;

async function allStates(device, names) {
    const { page } = device;
    for (const name of names) {
        await device.open(STATES[name]);
        check((await page.locator("h1").count()) === 1, `${name}: one first heading`);
        check(
            !/undefined|NaN|\[object|null\b/.test(await page.locator("body").innerText()),
            `${name}: ${(await page.locator("body").innerText()).match(/.{0,60}(undefined|NaN|\[object|null\b).{0,40}/)?.[0]}`,
        );
        check((await page.title()) !== "huewright", `${name}: the tab says where it is: ${await page.title()}`);
        await state(device, name);
    }
}

// The heading, what is shown below it and the address stay together through back, forward and reload.
async function backAndForth(device, names) {
    const { page } = device;
    const stands = async () => ({
        address: await page.evaluate(() => location.hash),
        head: await page.locator("h1").innerText(),
        more: (await page.locator("#screen").innerText()).slice(0, 200).replace(/\d+ minutes?/g, ""),
    });
    const seen = [];
    for (const name of names) {
        await device.open(STATES[name]);
        seen.push(await stands());
        await page.reload();
        await device.settled();
        same(await stands(), seen.at(-1), `${name}: after a reload`);
    }
    for (let i = names.length - 2; i >= 0; i -= 1) {
        await page.goBack();
        await device.settled();
        same(await stands(), seen[i], `${names[i]}: by way of back`);
    }
    await page.goForward();
    await device.settled();
    same(await stands(), seen[1], `${names[1]}: by way of forward`);
}

// By keys alone: what has the focus is seen, and a job is reached and left.
async function byKeys(device) {
    const { page } = device;
    await device.open("#/");
    const seen = new Set();
    for (let i = 0; i < 12; i += 1) {
        await page.keyboard.press("Tab");
        const focus = await page.evaluate(() => {
            const e = document.activeElement,
                style = getComputedStyle(e);
            return {
                what: e.outerHTML.slice(0, 80),
                ring: (style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2) || style.boxShadow !== "none",
            };
        });
        if (focus.what.startsWith("<body")) break;
        seen.add(focus.what);
        check(focus.ring, `the focus is seen on ${focus.what}`);
    }
    check(seen.size >= 5, `Tab goes round: ${seen.size} places`);
    await page.getByRole("link", { name: /Walnut gramophone cabinet, front/ }).focus();
    await page.keyboard.press("Enter");
    check(await until(() => page.url().endsWith("#/job/front")), "Enter opens the job");
    await device.settled();
    const focus = () => page.evaluate(() => document.activeElement.outerHTML.slice(0, 80));
    check(await until(async () => (await focus()).includes('id="head"'), 5000), `the heading has the focus: ${await focus()}`);
}

// What the page says of a job is what the command line says.
async function sameAsCommandLine(device, server) {
    const { page } = device;
    const advice = await command(server.folder, "advise", "cabinet", "--patch", "lid strip");
    await device.open(STATES.next);
    const text = await page.locator("#screen").innerText();
    check(
        !advice.next || new RegExp(`${advice.next.passes} pass`).test(text),
        `the plan says ${advice.next?.passes} pass(es): ${text.slice(0, 300)}`,
    );
    check(
        text.includes(advice.why || "\0") || text.includes((advice.why || "").split(/[.;]/)[0]),
        `the plan says why: ${advice.why}`,
    );
    const history = await command(server.folder, "history", "cabinet");
    await device.open(STATES.history);
    const numbers = (await page.locator(".events li").allInnerTexts()).map((t) => Number(/event (\d+)/.exec(t)?.[1]));
    check(
        numbers.length >= 4 && numbers.every((n) => history.events.some((e) => e.number === n)),
        `the history lists the events: ${numbers}`,
    );
}

await way("way_states", async (start) => {
    await demoJobs(join(own, "jobs"));
    await command(join(own, "jobs"), "start", "empty", "--title", "Nothing yet");
    const server = await start();
    const phone = await newDevice(server, "phone");
    phone.expected.push(REFUSED);
    await allStates(phone, Object.keys(STATES));
    await backAndForth(phone, ["help", "bench", "next", "history", "report-shop", "log-coat"]);
    await phone.over();
    const bench = await newDevice(server, "bench");
    bench.expected.push(REFUSED);
    await allStates(bench, long ? Object.keys(STATES) : ["jobs", "bench", "plan", "next", "history", "photo"]);
    await byKeys(bench);
    await sameAsCommandLine(bench, server);
    await bench.over();
    await server.stop();
});
