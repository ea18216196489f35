// Colours of an instrument's file to L*a*b* D50, against culori 4.0.2 (npm): within 0.03 CIE76. Its whites are made from
// chromaticities of four places, ours are the numbers of CIE 15 and ICC.1; that alone is 0.02 in b*.
//
//   node check_culori_measure.mjs PROGRAM
import { execFileSync } from 'node:child_process';
import { converter } from 'culori';

const lab = converter('lab'); // D50 in culori
const lines = execFileSync(process.argv[2], { encoding: 'utf8' }).trim().split('\n');
let passed = 0;
let failed = 0;
const most = {};
for (const line of lines) {
    const [what, ...rest] = line.split(' ');
    const [x, y, z, L, A, B] = rest.map(Number);
    const theirs = what === 'lab65'
        ? lab({ mode: 'lab65', l: x, a: y, b: z })
        : lab({ mode: what, x: x / 100, y: y / 100, z: z / 100 });
    const gap = Math.hypot(theirs.l - L, theirs.a - A, theirs.b - B);
    most[what] = Math.max(most[what] ?? 0, gap);
    if (gap <= 0.03) {
        passed++;
    } else {
        failed++;
        console.log(`${line}: culori ${theirs.l} ${theirs.a} ${theirs.b}`);
    }
}
if (lines.length !== 6000) {
    failed++;
    console.log(`${lines.length} colours instead of 6000`);
}
console.log('largest difference, CIE76:', most);
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
