// Marks drawn on the screen land on the pixels of the picture that lie under the finger: within 1 pixel, at any size of the
// photo, moved and enlarged by fingers, wheel, keys and buttons. Where a corner lies on the screen is seen on a screenshot: the
// picture has plain rectangles at known pixels.

import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { pixels, png } from "./pictures.mjs";
import { check, drag, newDevice, own, pause, pinch, press, same, tap, until, way } from "./shop.mjs";
import { letGo as nothingChosen, marksOf, toStage } from "./walk.mjs";

const SIZE = [1201, 899];
// left, top, right, bottom in pixels; corners lie on the edges between pixels.
const CARD = [60, 600, 260, 800],
    LARGE = [400, 150, 700, 350],
    SMALL = [801, 301, 841, 325],
    TINY = [951, 503, 969, 515];
const COLOURS = new Map([
    [CARD, [60, 60, 60]],
    [LARGE, [200, 60, 40]],
    [SMALL, [60, 170, 60]],
    [TINY, [60, 80, 200]],
]);
const WOOD = [150, 110, 80];

function colourAt(x, y) {
    for (const [[left, top, right, bottom], colour] of COLOURS)
        if (x >= left && x < right && y >= top && y < bottom) return colour;
    return WOOD.map((v) => v + ((x * 7 + y * 13) % 5) - 2);
}

const stageBox = (device) => device.page.locator(".stage").boundingBox();

// Where the rectangle of that colour lies in the window, CSS pixels: the middle of its fuzzy edge, found on a screenshot.
async function seen(device, rectangle) {
    let stage = await stageBox(device),
        shot = null;
    // What the page still draws may move it while the picture is taken; a hand waits until it stands.
    await until(async () => {
        shot = pixels(await device.page.screenshot({ clip: stage }));
        const [before, after] = [stage, await stageBox(device)];
        stage = after;
        return Math.hypot(after.x - before.x, after.y - before.y) < 0.01;
    }, 5000);
    const times = shot.width / stage.width;
    const colour = COLOURS.get(rectangle);
    const share = (x, y) => {
        const p = shot.at(x, y);
        const [near, far] = [colour, WOOD].map((c) => Math.hypot(...p.map((v, i) => v - c[i])));
        return far / (near + far || 1);
    };
    // Whole lines of it are weighed: the sum of the shares is the width, with its fractions.
    const inside = [];
    for (let y = 0; y < shot.height; y += 1) for (let x = 0; x < shot.width; x += 1) if (share(x, y) > 0.9) inside.push([x, y]);
    if (inside.length < 4) return null;
    const middle = [0, 1].map((axis) => inside.map((p) => p[axis]).sort((a, b) => a - b)[inside.length >> 1]);
    const edges = [
        [-1, 0],
        [0, -1],
        [1, 0],
        [0, 1],
    ].map(([dx, dy]) => {
        let [x, y] = middle,
            sum = 0;
        for (; x >= 0 && y >= 0 && x < shot.width && y < shot.height; x += dx, y += dy) {
            const s = share(x, y);
            if (s < 0.06) break;
            sum += s;
        }
        const at = dx ? middle[0] : middle[1];
        return (dx + dy < 0 ? at + 1 - sum : at + sum) / times;
    });
    return [stage.x + edges[0], stage.y + edges[1], stage.x + edges[2], stage.y + edges[3]];
}

function off(polygon, [left, top, right, bottom]) {
    const wanted = [
        [left, top],
        [right, top],
        [right, bottom],
        [left, bottom],
    ];
    return Math.max(
        ...wanted.map(([x, y]) => Math.min(...polygon.map(([px, py]) => Math.max(Math.abs(px - x), Math.abs(py - y))))),
    );
}

async function factor(device) {
    return (await device.page.locator("img.stage-picture").boundingBox()).width / SIZE[0];
}

// Draws over the rectangle as it is seen, and says how far the mark's corners are from its pixels.
async function drawOver(device, rectangle, role, label, { taps = false } = {}) {
    await nothingChosen(device);
    await press(device, role, { exact: true });
    await toStage(device);
    const at = await seen(device, rectangle);
    if (!check(at, `${label}: it is seen`)) return null;
    const [left, top, right, bottom] = at.map((v) => (device.kind === "phone" ? v : Math.round(v))); // a mouse counts whole pixels
    const before = (await marksOf(device)).length;
    const corners = [
        [left, top],
        [right, top],
        [right, bottom],
        [left, bottom],
    ].map(([x, y]) => ({ x, y }));
    if (taps) {
        // The eye follows the photo: where it is when a corner is tapped counts.
        const then = await stageBox(device);
        for (const { x, y } of corners) {
            const now = await stageBox(device);
            if (now.x !== then.x || now.y !== then.y) console.log(`  it moved by ${now.x - then.x}, ${now.y - then.y}`);
            await tap(device, { x: x + now.x - then.x, y: y + now.y - then.y });
        }
        await press(device, "Close the outline");
    } else await drag(device, corners[0], corners[2]);
    const after = await until(async () => ((await marksOf(device)).length > before ? marksOf(device) : null), 5000);
    if (!check(after, `${label}: a mark is there`)) return null;
    const k = await factor(device);
    // A mouse hits within half a CSS pixel; where the photo is small that is more than half of its own.
    const allowed = 1 + (device.kind === "phone" ? 0 : 0.5 / k);
    const miss = off(after.at(-1).polygon, rectangle);
    check(miss <= allowed, `${label}, ${k.toFixed(2)} CSS pixels a pixel: ${miss.toFixed(2)} pixels off`);
    console.log(`  ${label} (${device.kind}), ${k.toFixed(2)} CSS pixels a pixel: ${miss.toFixed(2)} pixels off`);
    return after.at(-1);
}

async function remove(device) {
    await press(device, "Remove", { exact: true });
}

// Enlarges the photo about that rectangle, and moves it into the middle.
async function larger(device, rectangle, wanted) {
    for (let i = 0; i < 14 && (await factor(device)) < wanted * 0.85; i += 1) {
        await toStage(device);
        const at = await seen(device, rectangle);
        if (!at) break;
        const middle = { x: (at[0] + at[2]) / 2, y: (at[1] + at[3]) / 2 };
        const times = Math.min(2.2, wanted / (await factor(device)));
        if (device.kind === "phone") await pinch(device, middle, 60, 60 * times, { x: 5, y: -3 });
        else {
            await device.page.mouse.move(middle.x, middle.y);
            await device.page.mouse.wheel(0, -240);
        }
        await pause(250);
    }
    await toStage(device);
    const at = await seen(device, rectangle),
        stage = await stageBox(device);
    if (!at) return;
    const middle = { x: stage.x + stage.width / 2, y: stage.y + stage.height / 2 };
    const way = { x: middle.x - (at[0] + at[2]) / 2, y: middle.y - (at[1] + at[3]) / 2 };
    await drag(
        device,
        { x: middle.x - way.x / 2, y: middle.y - way.y / 2 },
        { x: middle.x + way.x / 2, y: middle.y + way.y / 2 },
    );
    await pause(100);
}

// The mark that is chosen goes by a pixel with an arrow key, by ten with Shift, and back.
async function byKeys(device) {
    const chosen = async () => (await marksOf(device)).at(-1).polygon;
    const before = await chosen();
    const moved = before.map(([x, y]) => [x + 1, y + 10]);
    await device.page.locator(".stage").focus();
    await device.page.keyboard.press("ArrowRight");
    await device.page.keyboard.press("Shift+ArrowDown");
    same(
        await chosen(),
        moved.map((p) => p.map((v) => Math.round(v * 100) / 100)),
        "arrow keys move a mark by whole pixels",
    );
    await device.page.keyboard.press("Control+z");
    await device.page.keyboard.press("Control+z");
    same(await chosen(), before, "Ctrl and Z puts it back");
}

// While a finger draws, the magnifier shows what lies below it, away from it.
async function magnifier(device) {
    const { page } = device;
    await press(device, "Repair", { exact: true });
    await toStage(device);
    const stage = await stageBox(device);
    const lens = page.locator(".stage-lens");
    check(!(await lens.isVisible()), "no magnifier without a finger");
    for (const side of [0.2, 0.8]) {
        const place = { x: stage.x + stage.width * side, y: stage.y + stage.height * 0.5 };
        const hold =
            device.kind === "phone"
                ? device.touch.send("Input.dispatchTouchEvent", { type: "touchStart", touchPoints: [place] })
                : page.mouse.move(place.x, place.y).then(() => page.mouse.down());
        await hold;
        check(await until(() => lens.isVisible(), 3000), "the magnifier is there");
        const box = await lens.boundingBox();
        check(place.x < box.x || place.x > box.x + box.width, `away from the finger: ${JSON.stringify(box)}`);
        if (device.kind === "phone")
            await device.touch.send("Input.dispatchTouchEvent", { type: "touchCancel", touchPoints: [] });
        else await page.mouse.up();
        await pause(200);
    }
    await press(device, "Do not draw");
}

async function marksLand(device, file) {
    const { page } = device;
    await device.open("#/");
    await page.getByLabel("What is it?").fill(`Pixels by ${device.kind}`);
    await press(device, "Start this job");
    await page.locator("input[type=file]").first().waitFor({ state: "attached" });
    await page.locator("input[type=file]").last().setInputFiles(file);
    await page.getByRole("button", { name: "Keep this photo" }).waitFor();
    await device.settled();
    for (const mark of await marksOf(device)) {
        // what the program may have taken for a card
        await press(device, mark.name, { within: page.locator(".mark-list") });
        await remove(device);
    }
    await magnifier(device);
    await drawOver(device, CARD, "Grey card", "card, all of the photo");
    await drawOver(device, LARGE, "Repair", "a repair, all of the photo");
    await remove(device);
    await drawOver(device, LARGE, "Repair", "a repair, corner by corner", { taps: true });
    await nothingChosen(device);
    await larger(device, SMALL, 2.5);
    await drawOver(device, SMALL, "Old wood", "a spot, enlarged");
    await nothingChosen(device);
    await press(device, "Undo", { exact: true }); // its lines would cover the edges
    // Moved by one finger, then drawn again.
    await toStage(device);
    const stage = await stageBox(device);
    await drag(device, { x: stage.x + 60, y: stage.y + stage.height - 40 }, { x: stage.x + 91, y: stage.y + stage.height - 57 });
    await drawOver(device, SMALL, "Old wood", "a spot, moved");
    await nothingChosen(device);
    await press(device, "All of the photo");
    await pause(400);
    await larger(device, TINY, 8);
    await drawOver(device, TINY, "Old wood", "a tiny spot, much enlarged");
    await byKeys(device);
    const wanted = await marksOf(device);
    await device.settled();
    const sent = device.sent.filter((one) => one.path.endsWith("/reading")).at(-1);
    check(sent, "the marks are sent to be read");
    if (sent) {
        const marks = JSON.parse(sent.body).marks;
        same(
            marks.map((m) => [m.name, m.polygon]).sort(),
            wanted.map((m) => [m.name, m.polygon]).sort(),
            "the marks that are sent are those on the screen",
        );
        const tiny = marks.filter((m) => m.role === "target").at(-1);
        check(off(tiny.polygon, TINY) <= 1, `sent within a pixel: ${JSON.stringify(tiny.polygon)}`);
    }
}

await way("way_marks", async (start) => {
    const file = join(own, "pixels.png");
    writeFileSync(file, png(...SIZE, colourAt));
    const server = await start();
    for (const kind of ["phone", "bench"]) {
        const device = await newDevice(server, kind);
        device.expected.push(/Failed to load resource: the server responded with a status of 4(00|22)/);
        await marksLand(device, file);
        await device.over();
    }
    await server.stop();
});
