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
//
// Where to look:
//
//   - root.go takes messages and keeps what is open; keys.go says which contexts of keys are in force; actions.go is the registry.
//   - frame.go divides the window: strip.go above, the screen of the place, the foot, and over.go for what lies over it.
//   - A place is a file: desk.go, board.go, signon.go, rotation.go, rulings.go, plan.go, sheets.go, setup.go.
//   - load.go fetches, off the event loop, what the snapshot does not hold; options.go declares who is asked.
//   - run.go and terminal.go are the program on a terminal, and its end.
//
// A new action is one entry in actions.go: its key, its place in the help bar, its name in the palette and in the manual page come
// from there, and a test refuses a letter that means two things. A new screen implements [screen], gets a [place] and a letter in
// the list of places. What it draws is compared with the files in testdata (go test ./tui -update writes them; look at the change),
// at four sizes and without colours, and swept through all sizes by a test.
package tui
