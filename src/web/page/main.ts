declare const WORKER_TEXT: string; console.log(WORKER_TEXT.length);
