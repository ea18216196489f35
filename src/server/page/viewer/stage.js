// stage.js: the photo, upright, that can be moved and enlarged: by finger, wheel, keys and buttons. d3-zoom counts the gestures.
//
// Two systems of places: picture pixels (what marks are counted in; pixel 0 reaches from 0 to 1) and stage places (CSS pixels
// from the stage's left upper corner). One factor and one shift lead from the first to the second, so both ways are as exact
// as the browser's numbers.

import { el, script } from "../dom.js";

const LIBRARIES = ["dispatch", "selection", "color", "interpolate", "timer", "ease", "transition", "drag", "zoom"];
const LARGEST = 12; // CSS pixels a picture pixel: chosen, single pixels are told apart from about 6 on
const MARGIN = 0.15; // of the picture, that can be pulled in from beyond its edge, so that a corner there is reached
const STEP = 1.6; // of a button or key

let library = null;
export function fetchLibrary() {
    library =
        library ||
        LIBRARIES.reduce((before, name) => before.then(() => script(`/lib/d3-${name}.min.js`)), Promise.resolve());
    library.catch(() => {
        library = null;
    });
    return library;
}

export class Stage extends EventTarget {
    // Tells "move" whenever another part is seen, and "picture" when another picture stands there.
    constructor(label) {
        super();
        this.size = { width: 0, height: 0 };
        this.at = { k: 1, x: 0, y: 0 };
        this.mayMove = () => true; // asked at each start of a gesture
        this.picture = el("img", { class: "stage-picture", alt: "", draggable: "false" });
        this.root = el(
            "div",
            { class: "stage", tabindex: "0", role: "application", "aria-label": label },
            this.picture,
        );
    }

    // Once it is in the page and the library is there.
    start(signal) {
        const { d3 } = globalThis;
        const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
        this.zoom = d3
            .zoom()
            .duration(calm ? 0 : 200)
            .clickDistance(8)
            .extent(() => [
                [0, 0],
                [this.root.clientWidth, this.root.clientHeight],
            ])
            .filter(() => this.size.width > 0 && !d3.event.button && this.mayMove(d3.event))
            .on("zoom", () => this.moved(d3.event.transform));
        this.selection = d3.select(this.root).call(this.zoom);
        this.observer = new ResizeObserver(() => this.resized());
        this.observer.observe(this.root);
        signal.addEventListener("abort", () => {
            this.observer.disconnect();
            this.selection.on(".zoom", null);
        });
    }

    // Shows the picture at that address as one of `size` pixels, whatever its file's own size is. The part seen stays where the
    // size stays.
    async show(address, size, words) {
        const made = new Image();
        made.src = address;
        await made.decode();
        made.className = this.picture.className;
        made.alt = words;
        made.draggable = false;
        const wanted = size || { width: made.naturalWidth, height: made.naturalHeight };
        made.style.width = `${wanted.width}px`;
        made.style.height = `${wanted.height}px`;
        this.picture.replaceWith(made);
        this.picture = made;
        const same = wanted.width === this.size.width && wanted.height === this.size.height;
        this.size = wanted;
        this.root.style.setProperty("--shape", String(wanted.height / wanted.width));
        if (same) this.moved(this.at);
        else this.limits();
        if (!same) this.fit();
        this.dispatchEvent(new Event("picture"));
    }

    // As `show`, of a picture that the program makes: a small one first, that of all pixels once one looks closely.
    async showFrom(address, longest, size, words) {
        await this.show(`${address}?longest=${longest}`, size, words);
        const side = Math.max(size?.width || 0, size?.height || 0);
        if (side <= longest) return;
        const look = () => {
            if (this.at.k * (devicePixelRatio || 1) * side < 1.5 * longest) return;
            this.removeEventListener("move", look);
            this.show(`${address}?longest=${side}`, size, words).catch(() => {}); // the small one stays
        };
        this.addEventListener("move", look);
    }

    limits() {
        const { width, height } = this.size;
        const whole = this.whole();
        this.zoom.scaleExtent([whole, Math.max(LARGEST, 2 * whole)]).translateExtent([
            [-MARGIN * width, -MARGIN * height],
            [(1 + MARGIN) * width, (1 + MARGIN) * height],
        ]);
    }

    // The factor at which all of it is seen.
    whole() {
        return Math.min(this.root.clientWidth / this.size.width, this.root.clientHeight / this.size.height) || 1;
    }

    resized() {
        if (!this.size.width || !this.root.clientWidth) return;
        const all = this.at.k <= (this.wholeBefore || 0) * 1.001;
        this.limits();
        if (all) this.fit();
        else this.zoom.scaleBy(this.selection, 1);
    }

    moved({ k, x, y }) {
        this.at = { k, x, y };
        this.picture.style.transform = `translate(${x}px, ${y}px) scale(${k})`;
        this.picture.classList.toggle("grains", k >= 3);
        this.dispatchEvent(new Event("move"));
    }

    // ---- From one system to the other ----------------------------------------------

    // A place of the window (clientX, clientY) in picture pixels.
    toPicture(clientX, clientY) {
        const box = this.root.getBoundingClientRect();
        return [
            (clientX - box.left - this.root.clientLeft - this.at.x) / this.at.k,
            (clientY - box.top - this.root.clientTop - this.at.y) / this.at.k,
        ];
    }

    toStage([x, y]) {
        return [x * this.at.k + this.at.x, y * this.at.k + this.at.y];
    }

    place(clientX, clientY) {
        const box = this.root.getBoundingClientRect();
        return [clientX - box.left - this.root.clientLeft, clientY - box.top - this.root.clientTop];
    }

    // ---- Moves -----------------------------------------------------------------------

    fit() {
        const k = (this.wholeBefore = this.whole());
        const x = (this.root.clientWidth - this.size.width * k) / 2,
            y = (this.root.clientHeight - this.size.height * k) / 2;
        this.zoom.transform(this.selection, globalThis.d3.zoomIdentity.translate(x, y).scale(k));
    }

    enlarge(times = STEP) {
        if (this.size.width) this.zoom.scaleBy(this.selection, times);
    }
    pan(x, y) {
        if (this.size.width) this.zoom.translateBy(this.selection, x / this.at.k, y / this.at.k);
    }

    // Brings a box of picture pixels into view where it is not.
    reveal({ left, top, right, bottom, middle }) {
        if (!this.size.width) return;
        const [x0, y0] = this.toStage([left, top]),
            [x1, y1] = this.toStage([right, bottom]);
        const { clientWidth: width, clientHeight: height } = this.root;
        if (x1 < 0 || y1 < 0 || x0 > width || y0 > height) this.zoom.translateTo(this.selection, ...middle);
    }

    // True where the key meant the picture.
    key(event) {
        const far = event.shiftKey ? 200 : 50; // CSS pixels
        const moves = { ArrowLeft: [far, 0], ArrowRight: [-far, 0], ArrowUp: [0, far], ArrowDown: [0, -far] };
        if (event.key === "+" || event.key === "=") this.enlarge();
        else if (event.key === "-") this.enlarge(1 / STEP);
        else if (event.key === "0") this.fit();
        else if (moves[event.key]) this.pan(...moves[event.key]);
        else return false;
        return true;
    }
}
