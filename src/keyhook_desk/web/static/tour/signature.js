// A signature as the commands of a path (M and L with whole numbers in a field of 600 by 200), drawn while it is made.

const WIDTH = 600, HEIGHT = 200, MOST = 2500;

export class Signature {
  constructor(canvas) {
    this.canvas = canvas;
    this.pen = canvas.getContext("2d");
    this.strokes = [];
    canvas.addEventListener("pointerdown", (event) => this.begin(event));
    canvas.addEventListener("pointermove", (event) => this.go(event));
    for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, () => { this.drawing = false; });
  }

  place(event) {
    const box = this.canvas.getBoundingClientRect();
    const within = (value, most) => Math.round(Math.min(Math.max(value, 0), most));
    return [
      within(((event.clientX - box.left) / box.width) * WIDTH, WIDTH),
      within(((event.clientY - box.top) / box.height) * HEIGHT, HEIGHT),
    ];
  }

  begin(event) {
    event.preventDefault();
    this.canvas.setPointerCapture(event.pointerId);
    this.drawing = true;
    this.strokes.push([this.place(event)]);
    this.draw();
  }

  go(event) {
    if (!this.drawing) return;
    for (const part of event.getCoalescedEvents?.() ?? [event]) {
      const stroke = this.strokes.at(-1), [x, y] = this.place(part), [lastX, lastY] = stroke.at(-1);
      if (Math.abs(x - lastX) + Math.abs(y - lastY) >= 3 && this.strokes.flat().length < MOST) stroke.push([x, y]);
    }
    this.draw();
  }

  draw() {
    const pen = this.pen;
    pen.clearRect(0, 0, WIDTH, HEIGHT);
    pen.strokeStyle = getComputedStyle(this.canvas).color;
    pen.lineWidth = 4;
    pen.lineCap = pen.lineJoin = "round";
    for (const stroke of this.strokes) {
      pen.beginPath();
      stroke.forEach(([x, y], n) => (n ? pen.lineTo(x, y) : pen.moveTo(x, y)));
      if (stroke.length === 1) pen.lineTo(stroke[0][0] + 0.5, stroke[0][1]);
      pen.stroke();
    }
  }

  clear() {
    this.strokes = [];
    this.draw();
  }

  path() {
    const line = (stroke) => [...stroke, ...(stroke.length === 1 ? stroke : [])];
    return this.strokes.map((stroke) => line(stroke).map(([x, y], n) => `${n ? "L" : "M"}${x} ${y}`).join(" ")).join(" ");
  }
}
