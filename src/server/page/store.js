// store.js: what must survive a lost link and a reload, in the browser's own IndexedDB (which plain http has too).
//
//   outbox  what was logged and not yet sent, by its entry id
//   photos  photos chosen and not yet sent, by an id made here: { name, blob, job, view, … }
//   marks   marks as they lie on a photo that is not kept yet, by its upload id
//   drafts  words half typed, by the address they belong to
//   seen    answers last seen, by address, to read without a link

const NAMES = ["outbox", "photos", "marks", "drafts", "seen"];
let opened = null;

function open() {
    opened =
        opened ||
        new Promise((done, failed) => {
            const request = indexedDB.open("huewright", 1);
            request.onupgradeneeded = () => NAMES.forEach((name) => request.result.createObjectStore(name));
            request.onsuccess = () => done(request.result);
            request.onerror = () => failed(request.error);
        });
    return opened;
}

// Resolves once it is on the disk of this device, not before.
async function run(name, mode, work) {
    const database = await open();
    return new Promise((done, failed) => {
        const transaction = database.transaction(name, mode);
        const request = work(transaction.objectStore(name));
        transaction.oncomplete = () => done(request.result);
        transaction.onabort = () => failed(transaction.error);
    });
}

export const get = (name, key) => run(name, "readonly", (s) => s.get(key));
export const put = (name, key, value) => run(name, "readwrite", (s) => s.put(value, key));
export const drop = (name, key) => run(name, "readwrite", (s) => s.delete(key));
export const keys = (name) => run(name, "readonly", (s) => s.getAllKeys());
export const all = (name) => run(name, "readonly", (s) => s.getAll());

// An id of 32 letters and digits. crypto.randomUUID is missing on plain http, this is not.
export function newId() {
    return [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");
}
