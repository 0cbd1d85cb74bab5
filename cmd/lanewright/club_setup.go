package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"lanewright/layout"
	"lanewright/layout/pace"
	"lanewright/store"
	"lanewright/timing/port"
	"lanewright/tui"
)

// setUpNames are what the lines are called on the screen.
var setUpNames = map[string]string{
	"club": "club", "title": "night", "layout": "layout", "counter": "counter", "describe": "line description", "scale": "scale 1:", "backup": "backup after each heat",
}

// Fields are the lines of the set-up that are not on the rule card.
func (c *club) Fields() ([]tui.Field, error) {
	c.mu.Lock()
	set := c.settings
	layouts := layout.Examples()
	err := each(c.session.store, store.KindLayout, func(_ string, doc layoutDoc) {
		if !slices.Contains(layouts, strings.ToLower(doc.Name)) { // an example that has been raced is one line, not two
			layouts = append(layouts, doc.Name)
		}
	})
	c.mu.Unlock()
	if err != nil {
		return nil, err
	}
	devices := []string{simulatedCounter}
	if found, err := port.List(); err == nil { // without a list a name can still be typed
		for _, f := range found {
			devices = append(devices, f.Stable)
		}
	}
	scales := []string{}
	for _, d := range pace.Denominators() {
		scales = append(scales, strconv.Itoa(d))
	}
	return []tui.Field{
		{ID: "club", Name: setUpNames["club"], Value: set.Club},
		{ID: "title", Name: setUpNames["title"], Value: set.Title, Help: "what people call it"},
		{ID: "layout", Name: setUpNames["layout"], Value: set.LayoutName, Choices: choicesWith(set.LayoutName, layouts), Help: "an example, one raced before, or type the name of a plan file"},
		{ID: "counter", Name: setUpNames["counter"], Value: set.Device, Choices: choicesWith(set.Device, devices), Help: "its serial device; simulated: cars that drive by themselves"},
		{ID: "describe", Name: setUpNames["describe"], Value: set.Description, Help: "file, for a counter that does not speak our own sentences"},
		{ID: "scale", Name: setUpNames["scale"], Value: strconv.Itoa(set.Scale), Choices: choicesWith(strconv.Itoa(set.Scale), scales)},
		{ID: "backup", Name: setUpNames["backup"], Value: set.Backup, Help: "a file on another disk"},
	}, nil
}

// Set settles one line and returns what was done.
func (c *club) Set(id, value string) (string, error) {
	value = strings.TrimSpace(value)
	err := c.change(func(s *clubSettings) error {
		switch id {
		case "club":
			s.Club = value
			return checkTitle("club", value)
		case "title":
			s.Title = value
			return checkTitle("night", value)
		case "layout":
			return s.setLayout(c.session.store, value)
		case "counter":
			if value == "" {
				return wrongValue("counter", value, "a serial device, or "+simulatedCounter)
			}
			s.Device = value
		case "describe":
			s.Description = value
		case "scale":
			n, err := strconv.Atoi(strings.TrimPrefix(value, "1:"))
			if err != nil || n < 1 || n > 500 {
				return wrongValue("scale", value, "its denominator, such as 32 for 1:32")
			}
			s.Scale = n
		case "backup":
			s.Backup = value
		default:
			return fmt.Errorf("the set-up has no line %q", id)
		}
		return nil
	})
	if err != nil {
		return "", err
	}
	return strings.TrimSuffix(setUpNames[id], " 1:") + ": " + value, nil
}

func checkTitle(name, value string) error {
	if err := checkName(value); err != nil {
		return wrongValue(name, value, "a name of 1 to 60 letters")
	}
	return nil
}

// setLayout takes an example by name, a layout of the register, or reads a plan file.
func (c *clubSettings) setLayout(s *store.Store, value string) error {
	if text, ok := layout.Example(value); ok {
		c.LayoutName, c.LayoutFile, c.LayoutText = value, "", string(text)
		return nil
	}
	known := false
	err := each(s, store.KindLayout, func(_ string, doc layoutDoc) {
		if doc.Name == value {
			known, c.LayoutName, c.LayoutFile, c.LayoutText = true, doc.Name, doc.File, doc.Text
		}
	})
	if known || err != nil {
		return err
	}
	text, err := readSmall(value)
	if err != nil {
		return err
	}
	path, err := filepath.Abs(value)
	if err != nil {
		return err
	}
	c.LayoutName, c.LayoutFile, c.LayoutText = value, path, string(text)
	return nil
}
