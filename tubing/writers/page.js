// Keeps the ticks of the order of work on this device, where the browser allows it; the page works without.
(function () {
  var boxes = Array.prototype.slice.call(document.querySelectorAll("ol.work input"));
  var key = "ticks of plan " + document.body.dataset.plan;
  try {
    var kept = JSON.parse(localStorage.getItem(key) || "[]");
    boxes.forEach(function (box, k) { box.checked = kept[k] === true; });
    document.addEventListener("change", function () {
      localStorage.setItem(key, JSON.stringify(boxes.map(function (box) { return box.checked; })));
    });
  } catch (refused) { /* no storage: ticks last as long as the page is open */ }
})();
