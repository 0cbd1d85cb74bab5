package port

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

func TestMode(t *testing.T) {
	if got := (Mode{}).String(); got != "115200 8N1" {
		t.Errorf("zero mode is %s", got)
	}
	if got := (Mode{Baud: 9600, DataBits: 7, Parity: "even", StopBits: 2}).String(); got != "9600 7E2" {
		t.Errorf("got %s", got)
	}
	for _, m := range []Mode{{Baud: 1}, {Baud: -9600}, {DataBits: 9}, {Parity: "maybe"}, {StopBits: 3}} {
		if err := m.Check(); !errors.Is(err, ErrMode) {
			t.Errorf("%+v: %v", m, err)
		}
	}
}

func TestOpenErrorsSayWhatToDo(t *testing.T) {
	dir := t.TempDir()
	plain := filepath.Join(dir, "plain")
	if err := os.WriteFile(plain, []byte("no port"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, port string
		mode       Mode
		kind       error
		want       string
	}{
		{"no such port", filepath.Join(dir, "none"), Mode{}, ErrNone, "counter ports"},
		{"no name", "", Mode{}, ErrNone, "counter ports"},
		{"a plain file", plain, Mode{}, ErrOther, "expected a serial port"},
		{"impossible mode", plain, Mode{Baud: 7}, ErrMode, "baud 7"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if runtime.GOOS == "windows" && c.kind != ErrMode {
				t.Skip("other errors there")
			}
			_, err := Open(Config{Name: c.port, Mode: c.mode})
			if !errors.Is(err, c.kind) || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
				t.Errorf("got %v", err)
			}
		})
	}
	for _, kind := range []error{ErrDenied, ErrBusy} {
		text := (&OpenError{Name: "/dev/ttyUSB0", Kind: kind, Cause: os.ErrPermission}).Error()
		if !strings.Contains(text, "/dev/ttyUSB0") || !strings.Contains(text, kind.Error()) {
			t.Error(text)
		}
		if runtime.GOOS == "linux" && !strings.Contains(text, map[error]string{ErrDenied: "dialout", ErrBusy: "ModemManager"}[kind]) {
			t.Error(text)
		}
	}
}

// tree makes files and links ("-> target") below a new directory.
func tree(t *testing.T, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	for name, text := range files {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		var err error
		if to, ok := strings.CutPrefix(text, "-> "); ok {
			err = os.Symlink(to, path)
		} else {
			err = os.WriteFile(path, []byte(text), 0o644)
		}
		if err != nil {
			t.Skip(err)
		}
	}
	return root
}

func TestListLinux(t *testing.T) {
	root := tree(t, map[string]string{
		"dev/ttyS0": "", "dev/ttyS1": "", "dev/ttyUSB0": "", "dev/ttyACM0": "", "dev/tty1": "",
		"sys/class/tty/ttyS0/type":                         "4",
		"sys/class/tty/ttyS0/device/x":                     "",
		"sys/class/tty/ttyS1/type":                         "0", // not there
		"sys/class/tty/ttyS1/device/x":                     "",
		"sys/class/tty/tty1/x":                             "", // a console
		"sys/devices/usb1/product":                         "Gate box\n",
		"sys/devices/usb1/manufacturer":                    "Shed\n",
		"sys/devices/usb1/serial":                          "0042\n",
		"sys/devices/usb1/1:0/ttyUSB0/x":                   "",
		"sys/class/tty/ttyUSB0/device":                     "-> ../../../devices/usb1/1:0/ttyUSB0",
		"sys/class/tty/ttyACM0/device/x":                   "",
		"sys/class/tty/ttyUSB7/device/x":                   "", // unplugged meanwhile: no node
		"dev/serial/by-id/usb-Shed_Gate_box":               "-> ../../ttyUSB0",
		"dev/serial/by-path/pci-0000:00-usb-0:1":           "-> ../../ttyACM0",
		"sys/bus/usb-serial/devices/ttyUSB0/latency_timer": "16\n",
	})
	found, err := listLinux(filepath.Join(root, "sys"), filepath.Join(root, "dev"))
	if err != nil {
		t.Fatal(err)
	}
	dev := filepath.Join(root, "dev")
	want := []Found{
		{Path: dev + "/ttyACM0", Stable: dev + "/serial/by-path/pci-0000:00-usb-0:1"},
		{Path: dev + "/ttyS0", Stable: dev + "/ttyS0"},
		{Path: dev + "/ttyUSB0", Stable: dev + "/serial/by-id/usb-Shed_Gate_box", Product: "Gate box", Maker: "Shed", Serial: "0042"},
	}
	if len(found) != len(want) {
		t.Fatalf("found %+v", found)
	}
	for i := range want {
		if found[i] != want[i] {
			t.Errorf("got  %+v\nwant %+v", found[i], want[i])
		}
	}
	if ms := latency(dev+"/ttyUSB0", filepath.Join(root, "sys")); ms != 16 {
		t.Errorf("latency %d", ms)
	}
	if got := stable("/dev/ttyS0", dev+"/serial"); got != "/dev/ttyS0" {
		t.Errorf("a PC port became %s", got)
	}
	if _, err := listLinux(filepath.Join(root, "nothing"), dev); err != nil {
		t.Error(err)
	}
}
