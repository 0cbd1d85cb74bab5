// Package tui is what a race director and the drivers look at: the screens of a race night in the terminal.
//
// It knows no bytes and no files. It reads [race.Snapshot] values out of a [Feed], which nothing ever waits for, and sends
// [race.Command] values through a [Commander], which never makes it wait. A screen that has stopped, a terminal that nobody
// reads and a mistake in the drawing of a panel cost no pass.
//
// What can be done is held once, in the registry of package action: keys, help bar, list of keys, palette, mouse and manual
// page are read from it. Everything is drawn on a grid of cells (package cell), so that nothing is wider or longer than the
// window. [Root] is the only model; a [screen] draws one place.
//
// Laws of the keys: space (ctrl+s where text is typed) only makes things safer and calls the track whenever a heat is live;
// enter only moves the night on; what was done is said, and u takes it back; nothing stands in the way while a heat is live.
// A track call is a control of the race. It is no safety device.
package tui
