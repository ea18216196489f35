// 10,000 random sRGB colours to L*a*b* D50, against culori 4.0.2 (npm): within 0.02 CIE76.
//
//   node check_culori.mjs PROGRAM
import { execFileSync } from 'node:child_process';
import { converter } from 'culori';

const lab = converter('lab'); // D50 in culori
const lines = execFileSync(process.argv[2], { encoding: 'utf8' }).trim().split('\n');
let most = 0;
let passed = 0;
let failed = 0;
for (const line of lines) {
    const [r, g, b, L, A, B] = line.split(' ').map(Number);
    const theirs = lab({ mode: 'rgb', r: r / 255, g: g / 255, b: b / 255 });
    const gap = Math.hypot(theirs.l - L, theirs.a - A, theirs.b - B);
    most = Math.max(most, gap);
    if (gap <= 0.02) {
        passed++;
    } else {
        failed++;
        console.log(`${r} ${g} ${b}: ours ${L} ${A} ${B}, culori ${theirs.l} ${theirs.a} ${theirs.b}`);
    }
}
if (lines.length !== 10000) {
    failed++;
    console.log(`${lines.length} colours instead of 10000`);
}
console.log(`largest difference ${most.toFixed(5)} CIE76`);
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
