// The desk's one script. Pages work without it.
"use strict";
