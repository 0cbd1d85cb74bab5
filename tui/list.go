package tui

// list is what is chosen of a number of rows, and which of them show.
type list struct {
	at, top, n int
}

// fit settles how many rows there are and how many show; the chosen row is always among those that show.
func (l *list) fit(n, show int) {
	l.n = n
	l.at = max(0, min(l.at, n-1))
	show = max(show, 1)
	l.top = max(0, min(l.top, n-show))
	if l.at < l.top {
		l.top = l.at
	}
	if l.at >= l.top+show {
		l.top = l.at - show + 1
	}
}

// move moves the choice; it says whether the key is one that moves.
func (l *list) move(key string) bool {
	switch key {
	case "up":
		l.at--
	case "down":
		l.at++
	case "pgup":
		l.at -= 10
	case "pgdown":
		l.at += 10
	case "home":
		l.at = 0
	case "end":
		l.at = l.n - 1
	default:
		return false
	}
	l.at = max(0, min(l.at, l.n-1))
	return true
}
