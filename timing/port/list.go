package port

import (
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"go.bug.st/serial"
)

// Found is a port of this computer.
type Found struct {
	Path    string `json:"path"`
	Stable  string `json:"stable"` // the name to put into a file; equal to Path if there is none better
	Product string `json:"product,omitempty"`
	Maker   string `json:"maker,omitempty"`
	Serial  string `json:"serial,omitempty"`
}

// List returns the serial ports of this computer in the order of their names.
// On Linux it only reads directories and disturbs nobody. Pseudo-terminals
// and links made by hand are not found; their names can be typed all the same.
func List() ([]Found, error) {
	switch runtime.GOOS {
	case "linux":
		return listLinux("/sys", "/dev")
	case "darwin":
		// The tty.* twin of a port can block at open; the cu.* one does not.
		names, err := filepath.Glob("/dev/cu.*")
		return plain(names), err
	}
	names, err := serial.GetPortsList()
	return plain(names), err
}

func plain(names []string) []Found {
	slices.Sort(names)
	var found []Found
	for _, n := range names {
		found = append(found, Found{Path: n, Stable: n})
	}
	return found
}

func listLinux(sys, dev string) ([]Found, error) {
	class := filepath.Join(sys, "class/tty")
	entries, err := os.ReadDir(class)
	if os.IsNotExist(err) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var found []Found
	for _, e := range entries {
		name := e.Name()
		at := filepath.Join(class, name)
		if _, err := os.Stat(filepath.Join(at, "device")); err != nil {
			continue // a console or pseudo-terminal: nothing is wired to it
		}
		if word(at, "type") == "0" {
			continue // the kernel keeps names for PC ports that are not there
		}
		f := Found{Path: filepath.Join(dev, name)}
		if _, err := os.Stat(f.Path); err != nil {
			continue
		}
		f.Stable = f.Path
		if strings.HasPrefix(name, "ttyUSB") || strings.HasPrefix(name, "ttyACM") {
			f.Stable = stable(filepath.Join("/dev", name), filepath.Join(dev, "serial"))
		}
		if real, err := filepath.EvalSymlinks(filepath.Join(at, "device")); err == nil {
			// The USB device is one to three levels above the interface.
			for range 4 {
				if p := word(real, "product"); p != "" {
					f.Product, f.Maker, f.Serial = p, word(real, "manufacturer"), word(real, "serial")
					break
				}
				real = filepath.Dir(real)
			}
		}
		found = append(found, f)
	}
	slices.SortFunc(found, func(a, b Found) int { return strings.Compare(a.Path, b.Path) })
	return found, nil
}

// word reads a one-line file.
func word(dir, name string) string {
	text, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(text))
}
