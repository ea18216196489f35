// shapes.js: outlines of corners [x, y], in whatever unit they come; no page, no screen.

export function middle(polygon) {
    let area = 0,
        x = 0,
        y = 0;
    polygon.forEach(([px, py], i) => {
        const [qx, qy] = polygon[(i + 1) % polygon.length];
        const cross = px * qy - qx * py;
        area += cross;
        x += (px + qx) * cross;
        y += (py + qy) * cross;
    });
    if (Math.abs(area) < 1e-9) return box(polygon).middle;
    return [x / (3 * area), y / (3 * area)];
}

export function areaOf(polygon) {
    return (
        Math.abs(
            polygon.reduce((sum, [px, py], i) => {
                const [qx, qy] = polygon[(i + 1) % polygon.length];
                return sum + px * qy - qx * py;
            }, 0),
        ) / 2
    );
}

// The smallest upright rectangle around it.
export function box(polygon) {
    const xs = polygon.map((p) => p[0]),
        ys = polygon.map((p) => p[1]);
    const left = Math.min(...xs),
        top = Math.min(...ys),
        right = Math.max(...xs),
        bottom = Math.max(...ys);
    return { left, top, right, bottom, middle: [(left + right) / 2, (top + bottom) / 2] };
}

// By the even-odd rule, as the program counts pixels.
export function holds(polygon, [x, y]) {
    let inside = false;
    polygon.forEach(([px, py], i) => {
        const [qx, qy] = polygon[(i + 1) % polygon.length];
        if (py <= y !== qy <= y && x < px + ((y - py) / (qy - py)) * (qx - px)) inside = !inside;
    });
    return inside;
}

export const between = ([ax, ay], [bx, by]) => [(ax + bx) / 2, (ay + by) / 2];
export const far = ([ax, ay], [bx, by]) => Math.hypot(ax - bx, ay - by);

export const rectangle = ([ax, ay], [bx, by]) => [
    [Math.min(ax, bx), Math.min(ay, by)],
    [Math.max(ax, bx), Math.min(ay, by)],
    [Math.max(ax, bx), Math.max(ay, by)],
    [Math.min(ax, bx), Math.max(ay, by)],
];

// How far a shape may be shifted by (dx, dy) so that it stays within width by height.
export function shiftWithin(polygon, dx, dy, width, height) {
    const b = box(polygon);
    return [Math.min(Math.max(dx, -b.left), width - b.right), Math.min(Math.max(dy, -b.top), height - b.bottom)];
}
