package layout

import (
	"embed"
	"sort"
	"strings"
)

// The built-in kits and example plans are invented; their numbers are no maker's.
//
//go:embed kits/*.toml examples/*.toml
var builtin embed.FS

// BuiltinKit returns a kit that comes with the program, by its name ("Module 90", in any case) or its file's name ("module-90").
func BuiltinKit(name string) (Kit, bool) {
	data, ok := BuiltinKitFile(name)
	if !ok {
		return Kit{}, false
	}
	k, err := ReadKit(file(name)+".toml", data)
	return k, err == nil
}

// BuiltinKitFile returns the TOML of a built-in kit, for those who want to start from it.
func BuiltinKitFile(name string) ([]byte, bool) {
	data, err := builtin.ReadFile("kits/" + file(name) + ".toml")
	return data, err == nil
}

// BuiltinKits names the built-in kits as plans do, sorted.
func BuiltinKits() []string { return list("kits") }

// Example returns the TOML of an example plan.
func Example(name string) ([]byte, bool) {
	data, err := builtin.ReadFile("examples/" + file(name) + ".toml")
	return data, err == nil
}

// Examples names the example plans, sorted.
func Examples() []string { return list("examples") }

// file turns a name into that of its file, without its ending.
func file(name string) string {
	name = strings.TrimSuffix(strings.ToLower(strings.TrimSpace(name)), ".toml")
	return strings.ReplaceAll(name, " ", "-")
}

func list(folder string) []string {
	entries, err := builtin.ReadDir(folder)
	if err != nil {
		return nil
	}
	var names []string
	for _, e := range entries {
		names = append(names, strings.ReplaceAll(strings.TrimSuffix(e.Name(), ".toml"), "-", " "))
	}
	sort.Strings(names)
	return names
}
