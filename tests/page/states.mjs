// What must hold in every state of the page.

import { mkdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { check, shots } from "./checks.mjs";

const AXE = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];

async function look(device, name) {
    const { page } = device;
    if (!(await page.evaluate(() => Boolean(window.axe)))) await page.evaluate(AXE);
    const result = await page.evaluate(
        (tags) => window.axe.run(document, { runOnly: { type: "tag", values: tags }, resultTypes: ["violations"] }),
        RULES,
    );
    check(result.passes.length > 5, `${name}: axe looked at something`);
    for (const violation of result.violations) {
        const where = violation.nodes.slice(0, 3).map(
            (node) =>
                `${node.target} ${node.html.slice(0, 100)} ${node.any
                    .map((a) => a.message)
                    .join(" ")
                    .slice(0, 160)}`,
        );
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
        return {
            inner,
            scroll: document.documentElement.scrollWidth,
            past: past.slice(0, 3).map((e) => e.outerHTML.slice(0, 120)),
        };
    });
    check(wide.scroll <= wide.inner, `${name}: ${wide.scroll} px wide on ${wide.inner}: ${wide.past.join(" | ")}`);
}

async function thumbs(device, name) {
    const small = await device.page.evaluate(() =>
        [...document.querySelectorAll("button, a.press, input, select, textarea, summary, label.choice")]
            .filter((e) => e.checkVisibility({ opacityProperty: true, visibilityProperty: true }))
            .map((e) => [e, (e.closest("label") || e).getBoundingClientRect()])
            .filter(
                ([e, box]) => box.width > 2 && (box.height < 48 - 0.5 || box.width < 48 - 0.5) && !e.classList.contains("skip"),
            )
            .map(([e, box]) => `${Math.round(box.width)}x${Math.round(box.height)} ${e.outerHTML.slice(0, 90)}`),
    );
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
    await page.evaluate(() => {
        document.documentElement.style.fontSize = "200%";
    });
    await fits(device, `${label}, text at 200 %`);
    if (shots && device.kind === "phone")
        await page.screenshot({ path: join(shots, `${name}-${device.kind}-200.png`), fullPage: true });
    await page.evaluate(() => {
        document.documentElement.style.fontSize = "";
    });
}
