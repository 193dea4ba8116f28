// Copying to the clipboard, and photos made smaller before they are sent.
const LONGEST_PX = 1280;

for (const button of document.querySelectorAll("[data-copy]")) {
  if (!navigator.clipboard) break;
  button.hidden = false;
  const words = button.textContent;
  button.addEventListener("click", async () => {
    await navigator.clipboard.writeText(document.getElementById(button.dataset.copy).value);
    button.textContent = "Copied";
    setTimeout(() => { button.textContent = words; }, 2000);
  });
}

async function smaller(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const share = Math.min(1, LONGEST_PX / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(picture.width * share);
  canvas.height = Math.round(picture.height * share);
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  const blob = await new Promise((done) => { canvas.toBlob(done, "image/jpeg", 0.8); });
  return new File([blob], "photo.jpg", { type: "image/jpeg" });
}

for (const form of document.querySelectorAll("form[data-shrink]")) {
  form.addEventListener("submit", async (event) => {
    const field = form.elements.photo;
    if (form.dataset.shrunk || !field.files.length) return;
    event.preventDefault();
    form.dataset.shrunk = "yes";
    try {
      const kept = new DataTransfer();
      kept.items.add(await smaller(field.files[0]));
      field.files = kept.files;
    } catch { /* the server says what is wrong with it */ }
    form.requestSubmit();
  });
}
