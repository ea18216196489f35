// What the tests of the page share: the built program as a server on a folder of its own, Chromium as a phone or as a
// computer on the bench, fingers, and what must hold in every state of the page.
//
//   node WAY.mjs PROGRAM SOURCE_TREE OWN_FOLDER [--long] [--shots FOLDER] [--lan] [--page-dir DIR]

import { spawn } from "node:child_process";
import { mkdirSync, readFileSync, rmSync } from "node:fs";
import { join } from "node:path";
import { PATIENCE_MS, check, own, pageFolder, program, shots, summedUp, tree, until, words } from "./checks.mjs";
import { closeBrowser, openPages } from "./device.mjs";

export * from "./checks.mjs";
export * from "./device.mjs";
export * from "./states.mjs";

export class Server {
    // lan: over an address that others reach, paired by code. folder: what it serves.
    constructor(folder, data, { lan = false, port = 0 } = {}) {
        Object.assign(this, { folder, data, lan, out: "", err: "" });
        mkdirSync(folder, { recursive: true });
        const arguments_ = ["page"];
        if (lan) arguments_.push("--lan");
        if (port) arguments_.push("--port", String(port));
        if (pageFolder) arguments_.push("--page-dir", pageFolder);
        arguments_.push(folder);
        this.process = spawn(program, arguments_, {
            env: { ...process.env, XDG_DATA_HOME: data },
            stdio: ["ignore", "pipe", "pipe"],
        });
        this.process.stdout.on("data", (text) => {
            this.out += text;
        });
        this.process.stderr.on("data", (text) => {
            this.err += text;
        });
        this.ended = new Promise((done) => {
            this.process.on("exit", (code) => done(code));
        });
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
    code() {
        return [...this.out.matchAll(/#pair=([A-Za-z0-9]+)/g)].at(-1)?.[1];
    }

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
        const process_ = spawn(program, [...arguments_, "--json"], {
            cwd: folder,
            env: { ...process.env, XDG_DATA_HOME: join(own, "data") },
        });
        let out = "",
            err = "";
        process_.stdout.on("data", (text) => {
            out += text;
        });
        process_.stderr.on("data", (text) => {
            err += text;
        });
        process_.on("exit", (code) =>
            code === 0 ? done(JSON.parse(out)) : failed(new Error(`${arguments_.join(" ")}: ${code} ${err}`)),
        );
    });
}

// The demo's cabinet as a shop has it after two days: photographed, a pass, photographed again, a note; and its front with five
// repairs. Made by the command line.
export async function demoJobs(folder) {
    mkdirSync(folder, { recursive: true });
    const demo = (name) => join(tree, "demo", name);
    await command(folder, "start", "cabinet", "--title", "Walnut gramophone cabinet");
    await command(
        folder,
        "photo",
        "cabinet",
        demo("cabinet-lid-1.jpg"),
        "--marks",
        demo("cabinet-lid-1-marks.json"),
        "--view",
        "lid",
        "--lamp",
        "shop lamp",
        "--state",
        "lid strip=sealed",
    );
    await command(folder, "pass", "cabinet", "--patch", "lid strip", "--dye", "red=1/4", "--dye", "black=1/2", "--passes", "1");
    await command(
        folder,
        "photo",
        "cabinet",
        demo("cabinet-lid-2.jpg"),
        "--view",
        "lid",
        "--lamp",
        "shop lamp",
        "--state",
        "lid strip=sealed",
    );
    await command(folder, "note", "cabinet", "customer comes on Friday");
    await command(folder, "start", "front", "--title", "Walnut gramophone cabinet, front");
    await command(
        folder,
        "photo",
        "front",
        demo("cabinet-front.jpg"),
        "--marks",
        demo("cabinet-front-marks.json"),
        "--view",
        "front",
        "--lamp",
        "shop lamp",
    );
    await command(folder, "set", "front", "--coats", "2", "--over", "all", "--recoat", "30", "--card-size", "11x8cm");
    await command(folder, "jar", "front", "--dye", "red=1/4", "--dye", "black=1/2", "--volume", "4 fl oz");
    await command(folder, "pass", "front", "--patch", "cornice piece", "--jar", "1", "--passes", "1", "--hours", "0.5");
}

// The log of a job as it lies on the disk.
export function logOf(server, job) {
    return readFileSync(join(server.folder, job, "log.jsonl"), "utf8")
        .trim()
        .split("\n")
        .map((line) => JSON.parse(line));
}

// Runs the way; what it throws is a failure, and no server is left behind.
export async function way(name, walk) {
    rmSync(own, { recursive: true, force: true });
    mkdirSync(own, { recursive: true });
    const servers = [];
    const begun = Date.now();
    const start = async (options = {}) => {
        const server = new Server(options.folder || join(own, "jobs"), join(own, "data"), {
            lan: words.includes("--lan"),
            ...options,
        });
        servers.push(server);
        return server.ready();
    };
    try {
        await walk(start);
    } catch (error) {
        check(false, `${name}: ${error.stack || error}`);
        for (const page of openPages()) {
            console.log(
                `  at ${page.url()}: ${(
                    await page
                        .locator("body")
                        .innerText()
                        .catch(() => "?")
                ).slice(0, 1500)}`,
            );
            if (shots) await page.screenshot({ path: join(shots, `failed-${name}.png`) }).catch(() => {});
        }
    }
    for (const server of servers) if (server.process.exitCode === null) server.process.kill("SIGKILL");
    console.log(`${name}: ${((Date.now() - begun) / 1000).toFixed(1)} s`);
    await closeBrowser();
    process.exitCode = summedUp() ? 0 : 1;
}
