// What a way was called with, what it checked, and how it waits.

import { resolve } from "node:path";

export const words = process.argv.slice(2);
const option = (name) => {
    const at = words.indexOf(name);
    return at < 0 ? null : words[at + 1];
};
export const program = resolve(words[0]);
export const tree = resolve(words[1]);
export const own = resolve(words[2]);
export const long = words.includes("--long");
export const shots = option("--shots");
export const pageFolder = option("--page-dir"); // the page's files from there, in place of those that are built in
export const PATIENCE_MS = 60000; // for a sanitized program on a busy computer

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

export const pause = (ms) => new Promise((done) => setTimeout(done, ms));

// True where all checks held, and there were some.
export function summedUp() {
    console.log(`${passed} passed, ${failures.length} failed`);
    return passed > 0 && failures.length === 0;
}
