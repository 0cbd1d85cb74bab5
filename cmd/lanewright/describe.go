package main

import (
	"lanewright/timing/describe"
)

// readDescription reads a line description.
func readDescription(path string) (*describe.Description, error) {
	data, err := readSmall(path)
	if err != nil {
		return nil, err
	}
	return describe.Parse(path, data)
}
