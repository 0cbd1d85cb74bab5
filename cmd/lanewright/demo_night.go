package main

import (
	"embed"
	"path"

	"lanewright/race/sheet"
)

// The demo's club, layout and drivers are invented. Its files are the ones a club would write.
//
//go:embed demo
var demoFiles embed.FS

// demoSheet reads the demo's night sheet and its layout; seed is of the draw and of the drivers' luck.
func demoSheet(seed uint64) (nightSheet, error) {
	read := func(name string) ([]byte, error) { return demoFiles.ReadFile(path.Join("demo", path.Base(name))) }
	data, err := read("night.toml")
	if err != nil {
		return nightSheet{}, err
	}
	s, err := sheet.Read("night.toml", data)
	if err != nil {
		return nightSheet{}, err
	}
	s.Seed, s.Rotation.Seed = seed, seed
	return layOut(s, "", read)
}
