// Drives the desk in a real Chromium, from the first photo to the case, and looks for barriers with axe-core.
// Usage: node run.mjs PROGRAM [--pictures DIR] [--measure PHOTO...]. Needs Chromium (CHROMIUM names it otherwise) and `npm ci`.
import { spawn } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";

const here = dirname(fileURLToPath(import.meta.url));
const axeSource = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const demo = resolve(here, "../../fixtures/demo/quillfeather-moth-left-pinna.jpg");
const cords = resolve(here, "../../fixtures/micrographs/filaments/xy_16bit__bacteria_cords_thin.tif");
const program = resolve(process.argv[2] ?? "target/release/pilumen");
const after = (name) => process.argv.includes(name) ? process.argv.slice(process.argv.indexOf(name) + 1) : [];
const pictures = after("--pictures")[0];
const measured = after("--measure").filter((word) => !word.startsWith("--"));
const place = mkdtempSync(join(tmpdir(), "desk-"));
const record = join(place, "record");
const setups = join(place, "setups.json");

let desk;
let link;
async function open(extra = []) {
  desk = spawn(program, ["desk", "--record", record, "--setups", setups, "--port", "0", "--no-browser", ...extra], { stdio: ["ignore", "pipe", "inherit"] });
  link = await new Promise((done, failed) => {
    let said = "";
    desk.stdout.on("data", (data) => {
      said += data;
      const found = said.match(/http:\S+/);
      if (found) done(found[0]);
    });
    desk.on("exit", (code) => failed(new Error(`the desk ended with ${code}`)));
  });
}
async function close() {
  const ended = new Promise((done) => desk.on("exit", done));
  desk.kill("SIGKILL");
  await ended;
}

let passed = 0;
let failed = 0;
const errors = [];
const only = after("--only")[0];
async function check(name, work) {
  if (only && !new RegExp(only).test(name)) return;
  const began = Date.now();
  try {
    await work();
    passed += 1;
    console.log(`ok      ${name} (${((Date.now() - began) / 1000).toFixed(1)} s)`);
  } catch (error) {
    failed += 1;
    const line = error.stack?.match(/run\.mjs:\d+/)?.[0] ?? "";
    console.log(`FAILED  ${name} (${line}): ${error.message.split("\n").slice(0, 6).join("\n        ")}`);
  }
}
function expect(condition, message) {
  if (!condition) throw new Error(message);
}

/** Opens a page; what goes wrong in it is kept, and a request elsewhere is a fault. */
async function newPage(browser, options = {}) {
  const context = await browser.newContext({ viewport: { width: 1366, height: 860 }, locale: "en-GB", ...options });
  context.setDefaultTimeout(60_000);
  const page = await context.newPage();
  page.on("pageerror", (error) => errors.push(`${page.url()}: ${error.message}`));
  page.on("console", (message) => {
    // A refusal that a test asks for is not an error of the page.
    if (message.type() === "error" && !message.text().includes("status of 4")) errors.push(`${page.url()}: ${message.text()}`);
  });
  page.on("request", (request) => {
    // The desk comes back at another port when it was killed.
    if (!/^http:\/\/localhost:\d+\//.test(request.url()) && !/^(blob|data):/.test(request.url())) errors.push(`asked elsewhere: ${request.url()}`);
  });
  page.on("dialog", (dialog) => {
    errors.push(`a dialog: ${dialog.message()}`);
    dialog.dismiss();
  });
  await page.goto(link);
  await ready(page);
  return page;
}
const ready = (page) => page.waitForSelector("main[data-ready]");
const go = async (page, path) => {
  await page.goto(new URL(path, link).href);
  await ready(page);
};
const outlines = (page) => page.waitForSelector(".viewer[data-outlines]");
const name = async (page, text = "Test Person") => {
  await page.evaluate((by) => localStorage.setItem("desk.by", by), text);
  await page.reload();
  await ready(page);
};
/** What a page says, with what only a screen reader says; what is marked as English is left out where asked. */
const told = (page, withoutEnglish = false) => page.evaluate((without) => {
  const texts = [];
  const walk = (node) => {
    if (node.nodeType === Node.TEXT_NODE) texts.push(node.textContent);
    if (node.nodeType !== Node.ELEMENT_NODE || ["SCRIPT", "NOSCRIPT"].includes(node.tagName) || (without && node.lang === "en")) return;
    for (const name of ["aria-label", "title", "alt", "placeholder"]) if (node.hasAttribute(name)) texts.push(node.getAttribute(name));
    node.childNodes.forEach(walk);
  };
  walk(document.body);
  texts.push(document.title);
  return texts;
}, withoutEnglish);
/** No page shows what only programs should see. */
async function clean(page, what) {
  const faults = (await told(page)).filter((text) => /\b(null|undefined|NaN|Infinity)\b|\[object/.test(text));
  expect(faults.length === 0, `${what} shows: ${faults.slice(0, 3).join(" | ")}`);
}
/** No English is left on a Spanish page: its commonest small words, and those of the trade. */
async function spanishOnly(page, what) {
  await clean(page, what);
  const english = /\b(the|of|and|with|was|are|which|is|not|at|hair|hairs|shaft|shafts|look|looks|glows|send|slide|width|left|right|none|unknown)\b/i;
  const faults = (await told(page, true)).filter((text) => english.test(text.replace(/<b>not bold<\/b>|[\w-]+\.(jpe?g|png)/g, "")));
  expect(faults.length === 0, `${what} shows: ${faults.slice(0, 4).join(" | ")}`);
  const keys = await page.evaluate(() => document.body.innerText.match(/\b(slide|shaft|case|form|correct|queue|feature|concern|learn|zone|site|setups|brightness|comparison|course|neuter)\.[a-z]+/gi));
  expect(keys === null, `${what} shows keys: ${keys}`);
}
async function axe(page, what) {
  await clean(page, what);
  // Evaluated by the browser's debugger, so that the page's own policy stays as it is.
  await page.evaluate(axeSource);
  const { violations } = await page.evaluate(() => window.axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
  expect(violations.length === 0, `${what}: ${violations.map((one) => `${one.id} (${one.nodes.map((node) => node.html.slice(0, 120)).join(" | ")})`).join("; ")}`);
}
const wide = (page) => page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
async function picture(page, file, options = {}) {
  if (pictures) await page.screenshot({ path: join(pictures, file), ...options });
}
async function firstPhoto(page, animal, file, site = "left pinna") {
  await go(page, "/");
  await page.fill("#animal", animal);
  await page.selectOption("#site", site);
  await page.setInputFiles("#choose", file);
  await page.waitForURL(/\/slides\/[0-9a-f-]{36}/);
  await ready(page);
}

await open();
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox"] });
const page = await newPage(browser);
let slide;
let animal;

await check("the first page leads a newcomer through the demo photo", async () => {
  await axe(page, "start, empty");
  await picture(page, "start-first.png", { fullPage: true });
  await page.click("text=Show me the demo photo");
  await ready(page);
  await outlines(page);
  for (let step = 1; step <= 5; step += 1) {
    expect((await page.textContent(".tour h2")).startsWith(`${step}/5`), `step ${step}`);
    await page.click(".tour button.main");
  }
  await page.waitForURL(/\/$/);
  await ready(page);
  expect(!(await page.$(".first")), "the card does not come again");
});
await check("a photo needs a name, an animal and a site, and says so", async () => {
  await page.setInputFiles("#choose", demo);
  await page.waitForFunction(() => document.getElementById("said").textContent.includes("your name"));
  expect(await page.evaluate(() => document.activeElement.classList.contains("yourName")), "the name's field has the focus");
  expect(await page.evaluate(() => document.querySelector(".photos .fields input") === document.activeElement), "and is asked first");
  await page.fill("main input.yourName", "Test Person");
  expect((await page.textContent("#you-name")) === "Test Person", "the name is shown at the top");
  await page.setInputFiles("#choose", demo);
  await page.waitForFunction(() => document.getElementById("said").textContent.includes("which animal"));
});
await check("from a photo to the finding", async () => {
  await firstPhoto(page, "Moth (invented)", demo);
  await outlines(page);
  slide = page.url();
  expect((await page.textContent(".finding")).includes("Send hair for a fungal culture"), "the advice is there");
  expect(await page.locator("button.shaft").count() > 5, "shafts are listed");
  expect(await page.evaluate(() => Boolean(document.getElementById("why").compareDocumentPosition(document.getElementById("correcting")) & Node.DOCUMENT_POSITION_FOLLOWING)), "why stands before correcting");
  const reading = await page.evaluate(async () => (await fetch(`/api/photos/${document.querySelector(".viewer").dataset.photo}/reading`)).json());
  const taken = reading.evaluation.shafts.find((one) => one.comparison && one.class === "infected");
  await page.click(`button.shaft[data-shaft="${taken.id}"]`);
  expect((await page.textContent(`button.shaft[data-shaft="${taken.id}"]`)).includes("was taken as comparison"), "a comparison shaft that looks infected");
  expect((await page.textContent("#shaft .comparison")).includes("it is no comparison shaft"), "and what to do about it");
  const one = reading.evaluation.shafts.find((shaft) => shaft.width.sd_px !== null);
  const shown = (await page.textContent(`button.shaft[data-shaft="${one.id}"]`)).match(/([\d.]+) ± ([\d.]+) px/);
  expect(shown && shown[1].split(".")[1]?.length === shown[2].split(".")[1]?.length, `width and uncertainty have as many decimals: ${shown?.[0]}`);
  await page.locator("button.shaft").first().click();
  await axe(page, "slide");
  await page.evaluate(() => window.scrollTo(0, 0));
  await picture(page, "slide.png");
});
await check("hover, click and arrow keys choose a shaft, and one cursor is on photo, strip and plots", async () => {
  await page.focus(".overlay");
  const chosen = () => page.getAttribute("button.shaft[aria-pressed=true]", "data-shaft");
  const before = await chosen();
  await page.keyboard.press("ArrowRight");
  expect((await chosen()) !== before, "the next shaft");
  await page.keyboard.press("ArrowLeft");
  expect((await chosen()) === before, "and back");
  await page.hover("canvas.strip", { position: { x: 120, y: 30 } });
  await page.waitForFunction(() => document.querySelector(".plots > .detail[aria-live]").textContent.startsWith("At "));
  await picture(page, "slide-along.png");
});
await check("zooming and moving by wheel, pointer and keys", async () => {
  const box = await page.locator(".overlay").boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.wheel(0, -900);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width / 2 - 150, box.y + box.height / 2 - 60, { steps: 6 });
  await page.mouse.up();
  await page.focus(".overlay");
  for (const key of ["+", "-", "Shift+ArrowLeft", "0"]) await page.keyboard.press(key);
});
await check("a corrected look is kept and counts in the finding", async () => {
  const first = page.locator("button.shaft").first();
  await first.click();
  const other = (await first.textContent()).includes("looks coated") ? "fibre" : "coated";
  await page.click(`.looks button[data-look=${other}]`);
  await page.waitForSelector(".history li");
  expect((await page.textContent("button.shaft >> nth=0")).includes("look by a person"), "the list says whose look it is");
  await page.reload();
  await ready(page);
  await outlines(page);
  expect((await page.textContent(".history")).includes("Test Person"), "after loading again it is there, with who said it");
});
await check("base end, comparison and rejecting, and taking back", async () => {
  const count = await page.locator("button.shaft").count();
  await page.locator("button.shaft").nth(1).click();
  await page.click("text=The base is at the other end");
  await page.waitForFunction(() => document.querySelectorAll(".history li").length === 2);
  expect((await page.textContent("#facts")).includes("set by a person"), "the orientation is given");
  await page.click("#correcting >> text=/comparison shaft/i");
  await page.waitForFunction(() => document.querySelectorAll(".history li").length === 3);
  await page.click("text=This is no shaft");
  await page.waitForFunction(() => document.querySelectorAll(".history li").length === 4);
  expect(await page.locator("button.shaft").count() === count - 1, "it is gone from the list");
  await page.locator(".history button").last().click();
  await page.waitForFunction(() => document.querySelectorAll(".history li").length === 3);
  expect(await page.locator("button.shaft").count() === count, "and back");
});
await check("a missed shaft is clicked along and measured like any other", async () => {
  // Take one away, then click along where it lies.
  const reading = await page.evaluate(async () => (await fetch(`/api/photos/${document.querySelector(".viewer").dataset.photo}/reading`)).json());
  const shaft = reading.evaluation.shafts.find((one) => one.width.median_px && one.concerns.length === 0);
  await page.click(`button.shaft[data-shaft="${shaft.id}"]`);
  await page.click("text=This is no shaft");
  await page.waitForSelector(`button.shaft[data-shaft="${shaft.id}"]`, { state: "detached" });
  await page.focus(".overlay");
  await page.keyboard.press("0");
  await page.click("#missed");
  const box = await page.locator(".overlay").boundingBox();
  const size = reading.evaluation.photo;
  const zoom = Math.min(box.width / size.width_px, box.height / size.height_px);
  const line = shaft.centreline_px;
  for (const share of [0.02, 0.25, 0.5, 0.75, 0.98]) {
    const [x, y] = line[Math.round(share * (line.length - 1))];
    await page.mouse.click(box.x + box.width / 2 + (x + 0.5 - size.width_px / 2) * zoom, box.y + box.height / 2 + (y + 0.5 - size.height_px / 2) * zoom);
  }
  await page.locator(".adding").scrollIntoViewIfNeeded();
  await picture(page, "missed-shaft.png");
  await page.click("#adding-done");
  await page.waitForSelector(`button.shaft[data-shaft="${shaft.id}"]`);
  const again = await page.evaluate(async () => (await fetch(`/api/photos/${document.querySelector(".viewer").dataset.photo}/reading`)).json());
  const found = again.evaluation.shafts.find((one) => one.id === shaft.id);
  expect(Math.abs(found.width.median_px / shaft.width.median_px - 1) < 0.03, `width ${shaft.width.median_px} and ${found.width.median_px}`);
});
/** The demo photo as visible light would show it, bright ground and dark shafts, turned and shifted. */
const inVisibleLight = async (page, turn, right, down) => ({ name: "visible.jpg", mimeType: "image/jpeg", buffer: Buffer.from(await page.evaluate(async ([turn, right, down]) => {
  const photo = await createImageBitmap(await (await fetch("/api/demo/bytes")).blob());
  const canvas = new OffscreenCanvas(photo.width, photo.height);
  const pen = canvas.getContext("2d");
  pen.fillStyle = "white";
  pen.fillRect(0, 0, photo.width, photo.height);
  pen.translate(photo.width / 2 + right, photo.height / 2 + down);
  pen.rotate(turn);
  pen.filter = "invert(1)";
  pen.drawImage(photo, -photo.width / 2, -photo.height / 2);
  const bytes = new Uint8Array(await (await canvas.convertToBlob({ type: "image/jpeg", quality: 0.95 })).arrayBuffer());
  let text = "";
  for (let i = 0; i < bytes.length; i += 32768) text += String.fromCharCode(...bytes.subarray(i, i + 32768));
  return btoa(text);
}, [turn, right, down]), "base64") });
await check("a photo in visible light is added with the keyboard, laid on the other, and both blink", async () => {
  await firstPhoto(page, "Bracken (invented)", { name: "uv.jpg", mimeType: "image/jpeg", buffer: Buffer.concat([readFileSync(demo), Buffer.from([7])]) }, "right pinna");
  await outlines(page);
  const tabTo = async (test, most = 160) => {
    for (let i = 0; i < most; i += 1) {
      await page.keyboard.press("Tab");
      if (await page.evaluate(test)) return;
    }
    throw new Error(`Tab does not reach ${test}`);
  };
  await tabTo(() => document.activeElement.matches("summary") && Boolean(document.activeElement.parentElement.querySelector("#choose")));
  await page.keyboard.press("Enter");
  await tabTo(() => document.activeElement.name === "light");
  await page.keyboard.press("ArrowDown");
  expect((await page.evaluate(() => document.activeElement.value)) === "visible", "visible light is chosen");
  await page.setInputFiles("#choose", await inVisibleLight(page, 0.05, 18, -11));
  await page.waitForSelector("#blink:not([hidden])");
  await tabTo(() => document.activeElement.id === "blink");
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => document.getElementById("said").textContent.includes("laid on each other"));
  await axe(page, "two lights in turn");
  await picture(page, "slide-two-lights.png");
  await page.keyboard.press("Enter");
  expect((await page.getAttribute("#blink", "aria-pressed")) === "false", "it ends");
  // Laid back, the inverted photo is the photo again but for what the turn cut off: compared away from the corners.
  const off = await page.evaluate(async () => {
    const { photos } = await (await fetch(`/api/slides/${location.pathname.split("/").pop()}`)).json();
    const [uv, visible] = ["uv", "visible"].map((light) => photos.find((photo) => photo.light === light).id);
    const pixels = async (path) => {
      const photo = await createImageBitmap(await (await fetch(path)).blob());
      const pen = new OffscreenCanvas(photo.width, photo.height).getContext("2d");
      pen.drawImage(photo, 0, 0);
      const [x, y] = [photo.width / 4, photo.height / 4];
      return pen.getImageData(x, y, 2 * x, 2 * y).data;
    };
    const [under, laid] = [await pixels(`/api/photos/${uv}/bytes`), await pixels(`/api/photos/${visible}/on/${uv}`)];
    let sum = 0;
    for (let i = 1; i < under.length; i += 4) sum += Math.abs(255 - laid[i] - under[i]);
    return { mean: sum / (under.length / 4), same: (await fetch(`/api/photos/${uv}/on/${uv}`)).status };
  });
  expect(off.mean < 4, `laid on it, green differs by ${off.mean}`);
  expect(off.same === 422, "two photos in the same light are refused");
});
await check("a picture of something else: what stays possible is said", async () => {
  await firstPhoto(page, "Bracken (invented)", cords, "muzzle");
  await outlines(page);
  const reading = await page.evaluate(async () => (await fetch(`/api/photos/${document.querySelector(".viewer").dataset.photo}/reading`)).json());
  const several = reading.evaluation.shafts.find((one) => one.plausible.length > 1);
  await page.click(`button.shaft[data-shaft="${several.id}"]`);
  expect(/Still possible: .+ or .+\./.test(await page.textContent("#shaft")), "several looks are still possible");
});
await check("the case: body map, culture, plate, exam, note, pack", async () => {
  await go(page, new URL(slide).pathname);
  await page.click(".where a");
  await ready(page);
  animal = page.url();
  for (const [form, fill] of [
    ["form.exam", async (box) => box.locator("#exam-site").selectOption("muzzle")],
    ["form.culture", async (box) => box.locator("input[required][type=text]").fill("Sabouraud dextrose agar")],
  ]) {
    const box = page.locator(`details[data-form="${form}"]`);
    await box.locator("summary").click();
    await fill(box);
    await box.locator("button[type=submit]").click();
    await page.waitForFunction(() => document.getElementById("said").textContent === "Kept.");
    await page.evaluate(() => (document.getElementById("said").textContent = ""));
  }
  expect((await page.textContent("#case-cultures")).includes("Sabouraud"), "the culture is listed");
  const plate = page.locator('details[data-form="form.plate"]').first();
  await plate.locator("summary").click();
  await plate.locator("select").selectOption("none");
  await plate.locator("button[type=submit]").click();
  await page.waitForFunction(() => document.getElementById("said").textContent === "Kept.");
  expect((await page.textContent("#case-cultures li li")).includes("nothing grew"), "the look at the plate is listed");
  expect((await page.textContent("#case-map")).includes("muzzle"), "the site is on the map");
  await page.fill("#case-notes textarea", "<b>not bold</b>");
  await page.click("#case-notes button");
  await page.waitForFunction(() => document.getElementById("case-notes").textContent.includes("<b>not bold</b>"));
  const [download] = await Promise.all([page.waitForEvent("download"), page.click("text=The whole case as one file")]);
  expect(download.suggestedFilename() === "Moth (invented).zip", download.suggestedFilename());
  await page.waitForFunction(() => [...document.querySelectorAll(".thumb img")].every((one) => one.complete && one.naturalWidth > 0));
  await axe(page, "case");
  await picture(page, "case.png", { fullPage: true });
});
/** A photo of a stage micrometer, drawn in closed form: bands of light blurred by a bell curve, in linear light. */
const micrometer = (page, pitch, angle) => page.evaluate(async ([pitch, angle]) => {
  const [width, height, thick, blur] = [1936, 1090, 0.2 * pitch, 1.2];
  const canvas = new OffscreenCanvas(width, height);
  const context = canvas.getContext("2d");
  const image = context.createImageData(width, height);
  const [cos, sin] = [Math.cos((angle * Math.PI) / 180), Math.sin((angle * Math.PI) / 180)];
  // Abramowitz and Stegun 7.1.26, good to 1.5e-7.
  const erf = (x) => {
    const t = 1 / (1 + 0.3275911 * Math.abs(x));
    return Math.sign(x) * (1 - ((((1.061405429 * t - 1.453152027) * t + 1.421413741) * t - 0.284496736) * t + 0.254829592) * t * Math.exp(-x * x));
  };
  let seed = 20261128;
  const noise = () => {
    seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0;
    return seed / 4294967296 - 0.5;
  };
  for (let y = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1) {
      const u = (x - width / 2) * cos + (y - height / 2) * sin;
      const off = u - Math.round(u / pitch) * pitch;
      const covered = (erf((off + thick / 2) / (blur * Math.SQRT2)) - erf((off - thick / 2) / (blur * Math.SQRT2))) / 2;
      const light = 0.6 - 0.45 * covered + 0.03 * noise();
      const code = 255 * (light <= 0.0031308 ? 12.92 * light : 1.055 * light ** (1 / 2.4) - 0.055);
      const at = 4 * (y * width + x);
      image.data.fill(code, at, at + 3);
      image.data[at + 3] = 255;
    }
  }
  context.putImageData(image, 0, 0);
  const bytes = new Uint8Array(await (await canvas.convertToBlob({ type: "image/png" })).arrayBuffer());
  let text = "";
  for (let i = 0; i < bytes.length; i += 32768) text += String.fromCharCode(...bytes.subarray(i, i + 32768));
  return btoa(text);
}, [pitch, angle]);
await check("a setup is measured on photos of a micrometer, saved, used and removed", async () => {
  await go(page, "/setups");
  expect((await page.textContent("#setup-list")).includes("No setup"), "none yet");
  await page.setInputFiles("#choose-micrometer", demo);
  await page.waitForFunction(() => document.getElementById("said").textContent.includes("evenly ruled lines"));
  await go(page, "/setups");
  const pitch = 21.7;
  const file = async (name, angle) => ({ name, mimeType: "image/png", buffer: Buffer.from(await micrometer(page, pitch, angle), "base64") });
  await page.setInputFiles("#choose-micrometer", await file("lines.png", 7));
  await page.waitForSelector("#scale-result .scale");
  const shown = async () => (await page.textContent("#scale-result .scale")).match(/([\d.]+) ± ([\d.]+)/).slice(1).map(Number);
  const right = ([um, sd]) => Math.abs(um * pitch / 10 - 1) < 0.002 && Math.abs(um - 10 / pitch) < 4 * sd + 1e-6;
  expect(right(await shown()), `the scale is ${await shown()}, drawn ${10 / pitch}`);
  expect((await page.textContent("#scale-result")).includes("whether the pixels are square is not known"), "one direction only is a warning");
  await page.setInputFiles("#choose-micrometer", await file("lines-turned.png", 97));
  await page.waitForFunction(() => document.querySelectorAll("#micrometer-photos button").length === 2 && !document.getElementById("scale-result").textContent.includes("whether the pixels are square is not known"));
  expect(right(await shown()), `by both the scale is ${await shown()}`);
  await page.fill("#pitch", "20");
  await page.locator("#pitch").blur();
  await page.waitForFunction(() => document.querySelector("#scale-result .scale")?.textContent.startsWith("0.92"));
  await page.fill("#pitch", "10");
  await page.locator("#pitch").blur();
  await page.waitForFunction(() => document.querySelector("#scale-result .scale")?.textContent.startsWith("0.46"));
  await axe(page, "setups, measured");
  await page.fill("#setup-name", "10x phone");
  await picture(page, "setups.png", { fullPage: true });
  await page.click("#save-setup");
  await page.waitForFunction(() => document.getElementById("setup-list").textContent.includes("10x phone"));
  await page.fill("#setup-name", "10X Phone");
  await page.click("#save-setup");
  await page.waitForFunction(() => document.getElementById("said").textContent.includes("already"));
  await go(page, "/");
  await page.waitForFunction(() => [...document.querySelectorAll("select.scale option")].some((one) => one.textContent === "10x phone"));
  await page.selectOption("select.scale", "setup:10x phone");
  await picture(page, "start.png", { fullPage: true });
  await firstPhoto(page, "Tansy (invented)", { name: "scaled.jpg", mimeType: "image/jpeg", buffer: Buffer.concat([readFileSync(demo), Buffer.from([9])]) }, "chin");
  await outlines(page);
  const scaled = page.url();
  const widths = () => page.evaluate(() => [...document.querySelectorAll("button.shaft")].map((one) => one.textContent.match(/[\d.]+ ± [\d.]+ (µm|px)/)?.[0]).join("; "));
  const before = await widths();
  expect(before.includes("µm") && !before.includes("px"), `widths in micrometres: ${before}`);
  await go(page, "/setups");
  await page.click("#setup-list button");
  await page.waitForFunction(() => document.getElementById("setup-list").textContent.includes("No setup"));
  await page.goto(scaled);
  await ready(page);
  await outlines(page);
  await page.locator(".looks button[aria-pressed=false]").first().click();
  await page.waitForSelector(".history li");
  const after_ = await widths();
  expect(after_ === before, `what was read keeps its scale: ${before} / ${after_}`);
  await page.evaluate(() => localStorage.removeItem("desk.setup"));
});
await check("script in names and notes stays text", async () => {
  const evil = "<img src=x onerror=alert(1)>";
  await go(page, "/cases");
  await page.locator("section.panel input[required]").fill(evil);
  await page.click("text=Begin >> nth=-1");
  await page.waitForURL(/\/cases\/[0-9a-f-]{36}/);
  await ready(page);
  expect((await page.textContent("h1")).trim() === evil, "the name is shown as it is");
  await go(page, "/");
  await go(page, "/cases");
  expect((await page.textContent("table")).includes(evil), "in the list as well");
  expect((await page.$("main img[src=x]")) === null, "no picture was made of it");
});
await check("a newcomer looks at the atlas, practises, and sees the standing", async () => {
  await go(page, "/learn");
  await page.waitForFunction(() => document.querySelectorAll("#learning .plates img").length >= 24);
  await page.waitForFunction(() => [...document.querySelectorAll(".plates img")].slice(0, 4).every((one) => one.complete && one.naturalWidth > 0));
  await axe(page, "learn, atlas");
  await picture(page, "learn-atlas.png");
  await page.click('#learning a[href="/atlas/plate-infected-whole.html"]');
  await page.waitForFunction(() => [...document.images].every((one) => one.complete && one.naturalWidth > 0));
  await axe(page, "plate");
  await picture(page, "learn-plate.png", { fullPage: true });
  await page.goto(new URL("/atlas/days.html", link).href);
  await page.locator("input[type=range]").first().focus();
  for (let i = 0; i < 3; i += 1) await page.keyboard.press("ArrowRight");
  expect((await page.textContent("output")) === "day 7 of infection", "the slider shows its day");
  await page.check("input[value=visible]");
  await page.waitForFunction(() => [...document.querySelectorAll("figure.now img:not(.off)")].every((one) => one.src.includes("visible") && one.complete && one.naturalWidth > 0));
  await axe(page, "days");
  await page.click("text=Back to the desk");
  await ready(page);
  await page.click("button[data-part=practice]");
  await page.fill("#learner", "Nova");
  for (let round = 0; round < 3; round += 1) {
    await page.click(round ? "#next-photo" : "#begin");
    await page.waitForFunction(() => document.querySelector(".practicePhoto img")?.naturalWidth > 0 && document.querySelector("#show-truth"));
    if (!round) {
      await page.click("#show-truth");
      await page.waitForFunction(() => document.getElementById("said").textContent.includes("Say of every shaft"));
      await axe(page, "practice, asked");
      await picture(page, "learn-practice.png");
    }
    for (const one of await page.locator(".question").all()) await one.locator('input[value="infected"]').check({ force: true });
    await page.click("#show-truth");
    await page.waitForSelector(".outcome");
    if (!round) {
      await axe(page, "practice, told");
      await picture(page, "learn-told.png");
    }
  }
  await page.click("button[data-part=standing]");
  await page.waitForSelector(".confusion");
  expect((await page.textContent("#learning")).includes("3 photos"), "three photos count");
  await axe(page, "standing");
  await picture(page, "learn-standing.png", { fullPage: true });
});
await check("no barriers on the other pages", async () => {
  for (const path of ["/", "/cases", "/due", "/setups", "/learn", "/cautions", "/model", "/help"]) {
    await go(page, path);
    await axe(page, path);
    for (const to of ["/cautions", "/model"]) expect(await page.locator(`a[href="${to}"]`).count() > 0, `${path} leads to ${to}`);
  }
});
await check("in Spanish, with no word left over", async () => {
  const spanish = await newPage(browser, { locale: "es-ES" });
  await go(spanish, new URL(slide).pathname);
  await outlines(spanish);
  expect((await spanish.getAttribute("html", "lang")) === "es", "the language is told");
  expect((await spanish.textContent(".finding")).includes("Envíe pelo para un cultivo"), "the advice in Spanish");
  expect(/pelos? juzgados?/.test(await spanish.textContent(".finding")), "the finding's own sentence in Spanish");
  await spanish.evaluate(() => document.querySelectorAll("details").forEach((one) => (one.open = true)));
  await spanishOnly(spanish, "slide");
  await picture(spanish, "slide-spanish.png");
  await picture(spanish, "slide-spanish-whole.png", { fullPage: true });
  await go(spanish, new URL(animal).pathname);
  expect((await spanish.textContent("#case-due")).length > 20, "something is due");
  await spanishOnly(spanish, "case");
  await picture(spanish, "case-spanish.png", { fullPage: true });
  for (const path of ["/", "/cases", "/due", "/setups", "/learn", "/cautions", "/model", "/help"]) {
    await go(spanish, path);
    if (path === "/learn") await spanish.waitForFunction(() => document.querySelectorAll("#learning .plates img").length >= 24);
    await spanishOnly(spanish, path);
  }
  await go(spanish, "/due");
  await picture(spanish, "due-spanish.png");
  // What is refused is told in Spanish as well.
  await go(spanish, "/setups");
  await spanish.setInputFiles("#choose-micrometer", demo);
  await spanish.waitForFunction(() => document.getElementById("said").textContent.includes("no se ven líneas regulares"));
  await go(spanish, "/slides/demo?tour");
  await outlines(spanish);
  await spanishOnly(spanish, "demo");
  await picture(spanish, "demo-spanish.png");
  await spanish.context().close();
});
await check("on a phone: 360 pixels wide, nothing cut off, camera offered", async () => {
  const phone = await newPage(browser, { viewport: { width: 360, height: 740 }, hasTouch: true, isMobile: true });
  for (const path of ["/", "/cases", "/due", "/setups", "/learn", "/cautions", "/model", "/help", new URL(slide).pathname, new URL(animal).pathname, "/slides/demo"]) {
    await go(phone, path);
    if (path.startsWith("/slides")) await outlines(phone);
    expect((await wide(phone)) <= 0, `${path} is ${await wide(phone)} pixels too wide`);
    await axe(phone, `phone ${path}`);
  }
  await go(phone, "/");
  expect((await phone.getAttribute("input[capture]", "capture")) === "environment", "the camera");
  await picture(phone, "phone-start.png", { fullPage: true });
  await go(phone, new URL(slide).pathname);
  await outlines(phone);
  await picture(phone, "phone-slide.png");
  await picture(phone, "phone-slide-whole.png", { fullPage: true });
  await go(phone, "/setups");
  await picture(phone, "phone-setups.png", { fullPage: true });
  await phone.context().close();
});
await check("dark, and at 200 % zoom", async () => {
  const dark = await newPage(browser, { colorScheme: "dark" });
  for (const path of ["/", new URL(slide).pathname, new URL(animal).pathname, "/model"]) {
    await go(dark, path);
    if (path.startsWith("/slides")) await outlines(dark);
    await axe(dark, `dark ${path}`);
  }
  await go(dark, new URL(slide).pathname);
  await outlines(dark);
  await picture(dark, "slide-dark.png");
  // Zooming a page to 200 % halves the pixels it has.
  await dark.setViewportSize({ width: 640, height: 400 });
  for (const path of ["/", new URL(slide).pathname, new URL(animal).pathname]) {
    await go(dark, path);
    expect((await wide(dark)) <= 0, `${path} at 200 %: ${await wide(dark)} pixels too wide`);
  }
  await dark.context().close();
});
await check("with the keyboard alone: choose, correct, add a missed shaft", async () => {
  const keys = await newPage(browser);
  await name(keys);
  await go(keys, new URL(slide).pathname);
  await outlines(keys);
  const tabTo = async (test, most = 120) => {
    for (let i = 0; i < most; i += 1) {
      await keys.keyboard.press("Tab");
      if (await keys.evaluate(test)) return;
    }
    throw new Error(`Tab does not reach ${test}`);
  };
  await tabTo(() => document.activeElement.classList.contains("overlay"));
  await keys.keyboard.press("ArrowRight");
  const before = await keys.locator(".history li").count();
  await tabTo(() => document.activeElement.dataset.look && document.activeElement.ariaPressed === "false");
  await keys.keyboard.press("Enter");
  await keys.waitForFunction((n) => document.querySelectorAll(".history li").length > n, before);
  await tabTo(() => document.activeElement.id === "missed");
  await keys.keyboard.press("Enter");
  await keys.keyboard.press("Space");
  for (let i = 0; i < 6; i += 1) await keys.keyboard.press("Shift+ArrowRight");
  await keys.keyboard.press("Space");
  await keys.keyboard.press("Enter");
  await keys.waitForFunction((n) => document.querySelectorAll(".history li").length > n + 1, before);
  await keys.context().close();
});
await check("loading the page again and killing the desk in the middle of a queue loses nothing", async () => {
  const files = Array.from({ length: 6 }, (_, i) => ({ name: `queue-${i}.jpg`, mimeType: "image/jpeg", buffer: Buffer.concat([readFileSync(demo), Buffer.from([i])]) }));
  await firstPhoto(page, "Oriel (invented)", files, "chin");
  const id = new URL(page.url()).pathname;
  await page.reload();
  await close();
  await open();
  await page.goto("about:blank");
  const again = await newPage(browser);
  await go(again, id);
  await outlines(again);
  const unread = async () => (await again.evaluate(async (path) => (await fetch(`/api${path}`)).json(), id)).photos.filter((one) => !one.reading).length;
  for (let i = 0; i < 600 && (await unread()) > 0; i += 1) await again.waitForTimeout(250);
  expect((await unread()) === 0, "all six are read");
  await again.context().close();
});
await check("nothing went wrong in any page, and nothing was asked elsewhere", async () => {
  // When the desk is killed, what a page was waiting for fails; that is meant.
  const faults = errors.filter((text) => !/ERR_(CONNECTION|INCOMPLETE|EMPTY)|Failed to fetch|network error/i.test(text));
  expect(faults.length === 0, faults.join("\n        "));
});

for (const photo of measured) {
  const measuring = await newPage(browser);
  await name(measuring);
  const times = [];
  for (let run = 0; run < 3; run += 1) {
    const buffer = Buffer.concat([readFileSync(photo), Buffer.from([run, times.length, 7])]);
    await go(measuring, "/");
    await measuring.fill("#animal", "Pepperpot (invented)");
    await measuring.selectOption("#site", "back");
    await measuring.evaluate(() => document.getElementById("choose").addEventListener("change", () => sessionStorage.setItem("drop", String(Date.now())), true));
    await measuring.setInputFiles("#choose", { name: `run-${run}.jpg`, mimeType: "image/jpeg", buffer });
    await measuring.waitForURL(/\/slides\/[0-9a-f-]{36}/);
    await outlines(measuring);
    times.push(await measuring.evaluate(() => (performance.timeOrigin + performance.getEntriesByName("outlines")[0].startTime - Number(sessionStorage.getItem("drop"))) / 1000));
  }
  await measuring.waitForTimeout(1500);
  const rate = await measuring.evaluate(async () => {
    const overlay = document.querySelector(".overlay");
    const box = overlay.getBoundingClientRect();
    const send = (type, x, y) => overlay.dispatchEvent(new PointerEvent(type, { pointerId: 1, clientX: box.left + x, clientY: box.top + y, bubbles: true, isPrimary: true, button: 0, buttons: 1 }));
    overlay.setPointerCapture = () => {};
    const rates = [];
    for (const zooms of [0, 4, 8]) {
      for (let i = 0; i < zooms; i += 1) overlay.dispatchEvent(new WheelEvent("wheel", { deltaY: -150, clientX: box.left + box.width / 2, clientY: box.top + box.height / 2 }));
      send("pointerdown", 400, 300);
      const frames = [];
      await new Promise((done) => {
        const frame = (time) => {
          frames.push(time);
          const k = frames.length;
          send("pointermove", 400 + 180 * Math.sin(k / 12), 300 + 120 * Math.cos(k / 9));
          if (k < 120) requestAnimationFrame(frame);
          else done();
        };
        requestAnimationFrame(frame);
      });
      send("pointerup", 400, 300);
      const steps = frames.slice(1).map((time, i) => time - frames[i]).sort((a, b) => a - b);
      rates.push({ mean: 1000 * steps.length / (frames[frames.length - 1] - frames[0]), slowest: 1000 / steps[Math.floor(steps.length * 0.95)] });
    }
    return rates;
  });
  console.log(`measured ${photo.split("/").pop()}: drop to outlines ${times.map((time) => time.toFixed(2)).join(", ")} s; frames a second while panning (whole photo, closer, closest) ${rate.map((one) => `${one.mean.toFixed(0)} (95 % above ${one.slowest.toFixed(0)})`).join(", ")}`);
  await measuring.context().close();
}
await browser.close();
await close();
rmSync(place, { recursive: true, force: true });
console.log(`\n${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
