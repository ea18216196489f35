// Over an address that other devices reach, by plain http: not a secure context, so what browsers keep for https is missing
// (no crypto.randomUUID, no crypto.subtle, no service worker). Paired by the typed code and by the link of the QR code. 77: this
// computer has only a loopback address.

import { networkInterfaces } from "node:os";
import { join } from "node:path";
import { check, logOf, newDevice, own, press, same, state, tree, until, way } from "./shop.mjs";
import { cardIsTheCard, choosePhotos, drawBox, keep, loggedPhoto, of, readsAsCommandLine, startJob } from "./walk.mjs";

const LID = [1400, 1050];
const REFUSED = /status of 403/;

async function byCode(device, server) {
    const { page } = device;
    device.expected.push(REFUSED);
    await device.open("#/");
    await page.getByLabel("Code", { exact: true }).waitFor();
    await state(device, "pair");
    await page.getByLabel("Code", { exact: true }).fill("WRONGONE");
    await press(device, "Let me in");
    await page.getByRole("alert").waitFor();
    await state(device, "pair-refused");
    const code = server.code();
    await page.getByLabel("Code", { exact: true }).fill(`${code.slice(0, 4)} ${code.slice(4)}`.toLowerCase()); // as a person reads it off
    await press(device, "Let me in");
    await page.getByLabel("What is it?").waitFor();
    same(
        await page.evaluate(() => [isSecureContext, typeof crypto.randomUUID, typeof crypto.subtle, document.cookie]),
        [false, "undefined", "undefined", ""],
        "not a secure context, and the cookie is not for scripts",
    );
    check(await until(() => server.code() !== code, 5000), "the terminal shows another code for the next device");
}

async function shortWay(device, server) {
    const job = await startJob(device, `Lid by ${device.kind}`);
    await choosePhotos(device, join(tree, "demo/cabinet-lid-1.jpg"));
    if (!(await cardIsTheCard(device))) await drawBox(device, "Grey card", [604, 864, 192, 132], LID);
    await drawBox(device, "Repair", [230, 410, 938, 68], LID, "lid strip");
    await drawBox(device, "Old wood", [234, 204, 932, 182], LID, "upper panel");
    const { marks } = await readsAsCommandLine(device, join(tree, "demo/cabinet-lid-1.jpg"), LID);
    await keep(device, job);
    loggedPhoto(logOf(server, job), marks);
    return job;
}

// Entries wait in the device's own store on plain http too.
async function withoutLink(device, server, job) {
    const { page, context } = device;
    device.expected.push(/ERR_|Failed to/);
    await device.open(`#/job/${job}/plan/lid%20strip`);
    await page.getByRole("button", { name: "Laid it", exact: true }).waitFor();
    await context.setOffline(true);
    await press(device, "Laid it", { exact: true });
    await page
        .locator("#outbox")
        .getByText(/Not sent yet/)
        .waitFor();
    await context.setOffline(false);
    check(await until(() => of(logOf(server, job), "pass_laid").length === 1, 20000), "it goes out by itself");
    await page.reload();
    await device.settled();
    same(of(logOf(server, job), "pass_laid").length, 1, "once, after a reload too");
}

if (
    !Object.values(networkInterfaces())
        .flat()
        .some((one) => one.family === "IPv4" && !one.internal)
) {
    console.log("skipped: this computer has no address besides loopback");
    process.exit(77);
}

await way("way_lan", async (start) => {
    const server = await start({ lan: true });
    const phone = await newDevice(server, "phone", { paired: false });
    await byCode(phone, server);
    const job = await shortWay(phone, server);
    await withoutLink(phone, server, job);
    await phone.over();
    const bench = await newDevice(server, "bench"); // by the link
    await bench.open(`#/job/${job}`);
    check((await bench.page.getByRole("heading", { name: "lid strip" }).count()) === 1, "another device sees the job");
    await bench.over();
    await server.stop();
});
