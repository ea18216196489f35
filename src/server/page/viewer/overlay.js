// overlay.js: the marks drawn over the stage, in stage places, so that lines and letters keep their width at any size of the
// photo. Roles are told by the kind of line and by the name beside it: a repair has a double line, old wood a plain one, the
// card and other references a broken one, what is only proposed a dotted one. Black with a white edge shows on any wood, and
// bends no eye.

import { between, box, far, middle } from "./shapes.js";

const NS = "http://www.w3.org/2000/svg";
const APART = 30; // CSS pixels between the middles of two handles, at least: chosen, so that a thumb tells them apart

function svg(tag, properties, ...children) {
    const made = document.createElementNS(NS, tag);
    for (const [name, value] of Object.entries(properties)) made.setAttribute(name, value);
    made.append(...children);
    return made;
}

const apart = (a, b) => a.left >= b.right || b.left >= a.right || a.top >= b.bottom || b.top >= a.bottom;
const path = (points, closed = true) => `M${points.map(([x, y]) => `${x} ${y}`).join("L")}${closed ? "Z" : ""}`;

function style(mark) {
    if (mark.proposed) return "proposed";
    return { patch: "repair", target: "old-wood", board_strip: "old-wood" }[mark.role] || "reference";
}

// Where the handles of a mark are, nearest first in rank: its corners, the one in its middle that moves it, and between two
// corners those that make a new one. [{ kind: "corner" | "whole" | "between", corner, at: stage place }]
export function handlesOf(mark, stage) {
    const points = mark.polygon.map((p) => stage.toStage(p));
    const made = points.map((at, corner) => ({ kind: "corner", corner, at }));
    const add = (handle) => {
        if (made.every((other) => far(other.at, handle.at) >= APART)) made.push(handle);
    };
    add({ kind: "whole", corner: null, at: stage.toStage(middle(mark.polygon)) });
    points.forEach((p, i) => add({ kind: "between", corner: i + 1, at: between(p, points[(i + 1) % points.length]) }));
    return made;
}

export class Overlay {
    constructor(stage) {
        this.stage = stage;
        this.root = svg("svg", { class: "stage-marks", "aria-hidden": "true" });
        stage.root.append(this.root);
    }

    // selected: id or null; corner: number of the selected corner or null; draft: picture places being drawn; handles: whether
    // anything can be dragged; names: whether marks are named, else they stand in the way.
    draw(marks, { selected = null, corner = null, draft = null, handles = true, names = true, wrong = "" } = {}) {
        const chosen = marks.find(selected);
        const drawn = marks.list.filter((mark) => mark !== chosen).map((mark) => this.mark(mark, wrong));
        if (chosen) drawn.push(this.mark(chosen, wrong, true));
        if (names) drawn.push(...this.labels(marks.list, chosen));
        if (chosen && handles) drawn.push(this.handles(chosen, corner));
        if (draft?.length) drawn.push(this.draft(draft));
        this.root.replaceChildren(...drawn);
    }

    mark(mark, wrong, selected = false) {
        const points = mark.polygon.map((p) => this.stage.toStage(p));
        const outline = path(points);
        const kind = `mark ${style(mark)}${selected ? " selected" : ""}${mark.name === wrong ? " wrong" : ""}`;
        const made = svg(
            "g",
            {
                class: kind,
                "data-id": mark.id,
                "data-name": mark.name,
                "data-role": mark.role,
                "data-polygon": mark.polygon.map((p) => p.join(",")).join(" "),
            },
            svg("path", { class: "edge", d: outline }),
            svg("path", { class: "line", d: outline }),
        );
        if (style(mark) === "repair") made.append(svg("path", { class: "inner", d: outline }));
        return made;
    }

    // Names, in an order of rank; one that would lie on another is left to the list below the photo.
    labels(list, chosen) {
        const size = parseFloat(getComputedStyle(this.root).fontSize) || 14;
        const taken = [];
        const boxes = list.map((mark) => box(mark.polygon.map((p) => this.stage.toStage(p))));
        return list
            .map((mark, i) => this.labelPlaces(mark, size, mark === chosen, boxes[i], boxes))
            .filter(Boolean)
            .sort((a, b) => a.rank - b.rank)
            .map(({ name, places }) => {
                const place = places.find((one) => taken.every((other) => apart(one, other)));
                if (!place) return null;
                taken.push(place);
                const made = svg("text", { class: "name", x: place.left, y: place.bottom - 0.25 * size });
                made.textContent = name;
                return made;
            })
            .filter(Boolean);
    }

    // In a corner of the mark where it is large enough, else above or below it where no other mark lies; within the stage.
    labelPlaces(mark, size, chosen, b, boxes) {
        const { clientWidth: width, clientHeight: height } = this.stage.root;
        if (b.right < 0 || b.left > width || b.bottom < 0 || b.top > height) return null;
        const wide = 0.66 * size * mark.name.length,
            high = 1.3 * size;
        const clear = chosen ? 16 : 6; // of the handles
        const left = Math.max(b.left, 0) + clear,
            right = Math.min(b.right, width) - wide - clear;
        const top = Math.max(b.top, 0) + 2,
            bottom = Math.min(b.bottom, height) - high - 2;
        const fits = bottom >= top && right >= left;
        const corners = fits
            ? [
                  [left, top],
                  [right, top],
                  [left, bottom],
                  [right, bottom],
              ]
            : [b.top - high - 5, b.bottom + 5].map((y) => [Math.min(left, width - wide - 4), y]);
        const places = corners
            .map(([x, y]) => ({ left: x, top: y, right: x + wide, bottom: y + high }))
            .filter(
                (one) =>
                    one.top >= 0 &&
                    one.bottom <= height &&
                    one.left >= 0 &&
                    (fits ||
                        chosen ||
                        mark.role === "patch" ||
                        boxes.every((other) => other === b || apart(one, other))),
            );
        return { name: mark.name, places, rank: chosen ? 0 : mark.role === "patch" ? 1 : fits ? 2 : 3 };
    }

    handles(mark, corner) {
        return svg(
            "g",
            { class: "handles" },
            ...handlesOf(mark, this.stage).map(({ kind, corner: number, at: [x, y] }) => {
                const chosen = kind === "corner" && number === corner ? " chosen" : "";
                const made = svg("g", {
                    class: `handle ${kind}${chosen}`,
                    transform: `translate(${x} ${y})`,
                    "data-kind": kind,
                    "data-corner": number === null ? "" : number,
                });
                if (kind === "corner") made.append(svg("rect", { x: -6, y: -6, width: 12, height: 12 }));
                if (kind === "between") made.append(svg("circle", { r: 5 }));
                if (kind === "whole") made.append(svg("circle", { r: 11 }), svg("path", { d: "M-7 0H7M0 -7V7" }));
                return made;
            }),
        );
    }

    draft(places) {
        const points = places.map((p) => this.stage.toStage(p));
        const outline = path(points, points.length > 2);
        return svg(
            "g",
            { class: "mark draft" },
            svg("path", { class: "edge", d: outline }),
            svg("path", { class: "line", d: outline }),
            ...points.map(([x, y]) => svg("circle", { cx: x, cy: y, r: 5 })),
        );
    }
}
