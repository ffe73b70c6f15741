export function show() {}
