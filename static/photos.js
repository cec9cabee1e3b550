// A picture is sent as soon as it is taken or chosen, made smaller first where that helps, and sent again with the same
// key until the shop's computer has answered. Without this script the button beside it sends it as it is.
"use strict";

(() => {
  const LONGEST = 2400; // px, as in shop/pictures.py
  const PAUSES = [1500, 3000, 6000, 12_000]; // ms between tries

  async function smaller(file) {
    if (!/^image\/(jpeg|png|webp)$/.test(file.type) || file.size < 600_000) return file;
    try {
      const picture = await createImageBitmap(file);
      const scale = Math.min(1, LONGEST / Math.max(picture.width, picture.height));
      const canvas = document.createElement("canvas");
      canvas.width = Math.round(picture.width * scale);
      canvas.height = Math.round(picture.height * scale);
      const pen = canvas.getContext("2d");
      pen.fillStyle = "white";
      pen.fillRect(0, 0, canvas.width, canvas.height);
      pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
      const made = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.9));
      return made && made.size < file.size ? new File([made], "picture.jpg", { type: "image/jpeg" }) : file;
    } catch {
      return file; // the shop's computer says what is wrong with it
    }
  }

  async function send(form, field, said) {
    const data = new FormData(form);
    data.set("file", await smaller(field.files[0]));
    for (let tries = 0; ; tries += 1) {
      try {
        said.textContent = tries ? "No answer yet: trying again. Leave this page open." : "Sending it …";
        const answer = await fetch(form.action, { method: "POST", body: data, headers: { "X-Kept-Form": "1" } });
        if ([502, 503, 504].includes(answer.status)) throw new Error("busy");
        const to = answer.headers.get("X-Go-To");
        if (!to) {
          const page = new DOMParser().parseFromString(await answer.text(), "text/html");
          const wrong = page.querySelector("[data-summary] li, main p");
          said.textContent = wrong ? wrong.textContent.trim() : "It was not kept.";
          field.value = "";
          return;
        }
        loadAgain(to);
        return;
      } catch {
        await new Promise((done) => setTimeout(done, PAUSES[Math.min(tries, PAUSES.length - 1)]));
      }
    }
  }

  for (const form of document.querySelectorAll("form[data-photo]")) {
    const part = form.closest(".photo-add");
    const field = form.querySelector('input[type="file"]');
    part.classList.add("photo-add--quick");
    field.addEventListener("change", () => { if (field.files.length) send(form, field, part.querySelector(".photo-add__said")); });
  }
})();
