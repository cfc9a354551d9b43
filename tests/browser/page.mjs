// Looks at a page as people do, in a real browser, and says what is wrong with it.
//   node page.mjs FOLDER PAGE [--first-screen NUMBER] [--paint SECONDS] [--picture PNG] [--sheet]
// --sheet: of new lots, without a look at the labels of its drawings.
// FOLDER: where axe-core and playwright-core are installed, and where the printed page goes (NAME.pdf). One line of
// JSON for each page on standard output; a fault is an exception with its reason.
import { createRequire } from 'node:module';
import { basename, join, resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { parseArgs } from 'node:util';

const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: { 'first-screen': { type: 'string' }, paint: { type: 'string' }, picture: { type: 'string' }, sheet: { type: 'boolean' } },
});
const [folder, file] = positionals.map((path) => resolve(path));
const require = createRequire(join(folder, 'package.json'));
const { chromium } = require('playwright-core');
const axe = require('axe-core').source;
const address = pathToFileURL(file).href;

// Points of a phone that four items are to fit on, and of the narrowest screen that is to lose nothing.
const PHONE = { width: 390, height: 844 };
const NARROW = { width: 320, height: 844 };
const DESK = { width: 1280, height: 900 };

function must(holds, fault) {
  if (!holds) throw new Error(`${basename(file)}: ${fault}`);
}

// Without these a headless browser asks its maker's servers for updates.
const flags = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
  '--disable-component-update', '--disable-sync'];
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium', args: flags });

/** Opens the page, and notes what it says and asks for. */
async function open(viewport, options = {}) {
  const context = await browser.newContext({ viewport, bypassCSP: false, ...options });
  const page = await context.newPage();
  const heard = [];
  page.on('console', (message) => heard.push(`console: ${message.text()}`));
  page.on('pageerror', (error) => heard.push(`error: ${error.message}`));
  page.on('request', (request) => {
    const own = request.url() === address || request.url().startsWith('data:image/png');
    if (!own) heard.push(`request: ${request.url()}`);
  });
  await page.goto(address);
  return { context, page, heard };
}

/** Blocks that are not on the screen are not laid out; for measuring all are. */
const layOutAll = (page) => page.addStyleTag({ content: 'section.site{content-visibility:visible!important}' });

async function firstScreen(wanted) {
  const { context, page, heard } = await open(PHONE);
  const bottoms = await page.$$eval('.go > li', (items) => items.map((item) => item.getBoundingClientRect().bottom));
  const whole = bottoms.filter((bottom) => bottom <= PHONE.height).length;
  must(whole >= Math.min(wanted, bottoms.length), `${whole} items are whole on the first screen: ${bottoms}`);
  must(heard.length === 0, heard.join('; '));
  await context.close();
  return whole;
}

/** Nothing wider than the screen but what scrolls by itself; links and boxes of the list can be hit with a thumb. */
async function fits(viewport, options) {
  const { context, page, heard } = await open(viewport, options);
  await layOutAll(page);
  await page.$$eval('details', (all) => all.forEach((one) => { one.open = true; }));
  const width = await page.evaluate(() => document.scrollingElement.scrollWidth);
  must(width <= viewport.width, `${width} points wide on a screen of ${viewport.width}`);
  const low = await page.$$eval('.go a, nav a, .layers label', (all) => all
    .filter((one) => one.getBoundingClientRect().height < 40)
    .map((one) => one.textContent));
  must(low.length === 0, `under 40 points high: ${low.slice(0, 5)}`);
  const out = await page.$$eval('.go > li', (all) => all
    .flatMap((item) => [...item.querySelectorAll('.links span')]
      .filter((one) => one.getBoundingClientRect().bottom > item.getBoundingClientRect().bottom)
      .map((one) => one.textContent)));
  must(out.length === 0, `reaches out of its item at ${viewport.width}: ${out.slice(0, 5)}`);
  const cut = await page.$$eval('svg.chart text', (all) => all
    .filter((one) => one.getBBox().x + one.getBBox().width > one.ownerSVGElement.viewBox.baseVal.width)
    .map((one) => one.textContent));
  must(cut.length === 0, `cut off at the edge of its chart: ${cut.slice(0, 5)}`);
  must(heard.length === 0, heard.join('; '));
  await context.close();
}

/** Labels of a drawing and discs of patches do not lie on each other. */
async function labels() {
  const { context, page } = await open(DESK);
  await layOutAll(page);
  const clashes = await page.$$eval('svg.plan', (plans) => plans.flatMap((plan) => {
    const marks = [...plan.querySelectorAll('text:not(.m text), .m circle')].map((one) => {
      const box = one.getBBox();
      // Ascent and descent of a line are air.
      const air = one.tagName === 'text' ? 0.2 * box.height : 0;
      return { what: one.textContent, left: box.x, right: box.x + box.width, top: box.y + air, foot: box.y + box.height - air };
    });
    return marks.flatMap((a, index) => marks.slice(index + 1)
      .filter((b) => a.left < b.right && b.left < a.right && a.top < b.foot && b.top < a.foot)
      .map((b) => `${a.what} on ${b.what} in ${plan.querySelector('title').textContent.slice(0, 60)}`));
  }));
  must(clashes.length === 0, `labels on labels: ${clashes.slice(0, 5).join('; ')}`);
  await context.close();
}

/** No violation of what axe-core knows, with all layers and without. */
async function accessible(viewport, without) {
  const context = await browser.newContext({ viewport, bypassCSP: true });
  const page = await context.newPage();
  await page.goto(address);
  await layOutAll(page);
  if (without) await page.$$eval('.layers input', (boxes) => boxes.filter((box) => box.checked).forEach((box) => box.click()));
  await page.$$eval('details', (all) => all.forEach((one) => { one.open = true; }));
  await page.evaluate(axe);
  const { violations, passes } = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
  const told = violations.map((one) => `${one.id}: ${one.help} (${one.nodes.length}): ${one.nodes[0].html.slice(0, 200)}`);
  must(violations.length === 0, told.join('\n'));
  await context.close();
  return passes.length;
}

/** Layers go with their boxes. */
async function layers() {
  const { context, page } = await open(DESK);
  await layOutAll(page);
  const shown = (selector) => page.$$eval(selector, (all) => all.filter((one) => getComputedStyle(one).display !== 'none').length);
  // A service record has none.
  const boxes = await page.$$('.layers input');
  for (const [box, selector] of boxes.length === 0 ? [] : [['lp', '.plan .p, .plan .q, .plan .m'], ['lo', '.plan .o'], ['la', '.plan .a']]) {
    const before = await shown(selector);
    await page.click(`#${box}`);
    const after = await shown(selector);
    must(before === 0 || (after === 0), `${before} of ${selector} before and ${after} after its box is cleared`);
  }
  await context.close();
}

/** Every image was decoded and lies on its plan: within the box of the drawing. */
async function images() {
  const { context, page } = await open(DESK);
  await layOutAll(page);
  await page.$$eval('details', (all) => all.forEach((one) => { one.open = true; }));
  const told = await page.$$eval('svg.dose image', (all) => Promise.all(all.map(async (one) => {
    const image = new Image();
    image.src = one.getAttribute('href');
    await image.decode();
    const size = [Number(one.getAttribute('width')), Number(one.getAttribute('height'))];
    return image.naturalWidth === size[0] && image.naturalHeight === size[1];
  })));
  must(told.every((right) => right), 'an image is not as large as it says');
  await context.close();
  return told.length;
}

async function print() {
  const { context, page } = await open(DESK);
  await page.emulateMedia({ media: 'print' });
  const path = join(folder, `${basename(file, '.html')}.pdf`);
  await page.pdf({ path, preferCSSPageSize: true, format: 'Letter' });
  await context.close();
  return path;
}

/** From the file to the first paint, s: the best of a few. */
async function paint(most) {
  const times = [];
  for (let turn = 0; turn < 3; turn += 1) {
    const context = await browser.newContext({ viewport: PHONE });
    const page = await context.newPage();
    await page.goto(address, { waitUntil: 'load' });
    const first = await page.evaluate(() => new Promise((done) => {
      const told = performance.getEntriesByName('first-contentful-paint');
      if (told.length) done(told[0].startTime);
      else new PerformanceObserver((list) => list.getEntriesByName('first-contentful-paint').forEach((one) => done(one.startTime))).observe({ type: 'paint', buffered: true });
    }));
    times.push(first / 1000);
    await context.close();
  }
  const best = Math.min(...times);
  must(best <= most, `${best} s to the first paint`);
  return best;
}

/** The first screen of a phone beside the block of the second site, as a picture. */
async function picture(path) {
  const shots = [];
  for (const [viewport, section] of [[PHONE, false], [{ width: 540, height: 844 }, true]]) {
    const { context, page } = await open(viewport);
    await layOutAll(page);
    if (section) await page.$$eval('section.site', (all) => all[1].scrollIntoView());
    shots.push((await page.screenshot()).toString('base64'));
    await context.close();
  }
  const context = await browser.newContext({ viewport: { width: 970, height: 864 } });
  const page = await context.newPage();
  const image = (shot) => `<img style="border:1px solid #999" src="data:image/png;base64,${shot}">`;
  await page.setContent(`<body style="margin:8px;display:flex;gap:12px;background:#fff">${shots.map(image).join('')}`);
  await page.screenshot({ path });
  await context.close();
}

try {
  const told = { page: basename(file) };
  if (values.picture) {
    await picture(values.picture);
  } else if (values.paint) {
    told.whole_items = await firstScreen(Number(values['first-screen'] ?? 0));
    told.paint_s = await paint(Number(values.paint));
  } else {
    told.whole_items = await firstScreen(Number(values['first-screen'] ?? 0));
    await fits(PHONE);
    await fits(NARROW);
    // 200 % zoom of a small desk screen: half as many points.
    await fits({ width: 640, height: 450 }, { deviceScaleFactor: 2 });
    if (!values.sheet) await labels();
    await layers();
    told.images = await images();
    told.rules = [await accessible(PHONE, false), await accessible(DESK, true)];
    told.pdf = await print();
  }
  console.log(JSON.stringify(told));
} finally {
  await browser.close();
}
