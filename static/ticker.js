// A clock of its own: a page in the background is woken up rarely, this is not.
"use strict";
setInterval(() => postMessage(0), 1000);
