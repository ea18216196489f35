// photo.js: photographs: chosen and sent (#/job/J/new), on the bench with marks and reading (#/job/J/upload/ID), kept
// (#/job/J/photo/N).

import { bench } from "../viewer/bench.js";
import { choose } from "../viewer/choose.js";
import { keptPhoto } from "../viewer/kept.js";
import { fetchLibrary } from "../viewer/stage.js";

fetchLibrary().catch(() => {}); // so that it is there when the photo is

export default function show(page) {
    if (page.names.photo) return keptPhoto(page);
    if (page.names.upload) return bench(page, { upload: page.names.upload });
    return choose(page);
}
