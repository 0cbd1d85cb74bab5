package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"github.com/spf13/cobra"
	"golang.org/x/text/unicode/norm"

	"lanewright/store"
	"lanewright/tui"
)

func driversCommand() *cobra.Command {
	return group(&cobra.Command{
		Use:   "drivers",
		Short: "The club's register of drivers and their usual cars, as CSV",
	}, driversExportCommand(), driversImportCommand())
}

// driverColumns are the columns of the register as CSV, in order.
var driverColumns = []string{"name", "short", "class", "car", "group", "nights", "id"}

func driversExportCommand() *cobra.Command {
	var out string
	cmd := &cobra.Command{
		Use:   "export FILE",
		Short: "Write the register as CSV",
		Args:  cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := openForReading(args[0])
			if err != nil {
				return err
			}
			defer s.Close()
			known, err := knownDrivers(s)
			if err != nil {
				return err
			}
			var b bytes.Buffer
			b.WriteString("\ufeff")
			w := csv.NewWriter(&b)
			w.UseCRLF = true
			rows := [][]string{driverColumns}
			for _, k := range known {
				rows = append(rows, []string{tamed(k.Name), tamed(k.Short), tamed(k.Class), tamed(k.Car), tamed(k.Group), strconv.Itoa(k.Night), k.ID})
			}
			if err := w.WriteAll(rows); err != nil {
				return err
			}
			if out == "" || out == "-" {
				_, err := io.Copy(cmd.OutOrStdout(), &b)
				return err
			}
			return writeWhole(out, b.Bytes())
		},
	}
	cmd.Flags().StringVarP(&out, "out", "o", "", "file to write (default: standard output)")
	return cmd
}

// tamed puts an apostrophe before what a spreadsheet would run as a formula.
func tamed(s string) string {
	if s != "" && strings.ContainsRune("=+-@", rune(s[0])) {
		return "'" + s
	}
	return s
}

func driversImportCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "import FILE DRIVERS.CSV",
		Short: "Take drivers from a CSV file into the register; the first line names the columns, name is needed",
		Args:  cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			data, err := readSmall(args[1])
			if err != nil {
				return err
			}
			docs, err := readDrivers(args[1], data)
			if err != nil {
				return err
			}
			s, err := store.Open(args[0], store.Options{Program: "lanewright drivers import"})
			if err != nil {
				return err
			}
			defer s.Close()
			known, err := knownDrivers(s)
			if err != nil {
				return err
			}
			fresh := 0
			for _, d := range docs {
				isNew, err := keepDriver(cmd, s, known, d)
				if err != nil {
					return err
				}
				if isNew {
					fresh++
				}
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s taken in, %d of them new\n", count(len(docs), "driver"), fresh)
			return s.Close()
		},
	}
}

// keepDriver puts a driver into the register, over the one of that id or name.
func keepDriver(cmd *cobra.Command, s *store.Store, known []tui.Known, d importedDriver) (isNew bool, err error) {
	i := slices.IndexFunc(known, func(k tui.Known) bool { return d.id != "" && k.ID == d.id || k.Name == d.Name })
	id := store.NewID()
	if i >= 0 {
		id, d.Nights = known[i].ID, max(d.Nights, known[i].Night)
	}
	data, err := json.Marshal(d.driverDoc)
	if err != nil {
		return false, err
	}
	_, err = s.Put(cmd.Context(), store.KindDriver, id, data)
	return i < 0, err
}

type importedDriver struct {
	driverDoc
	id string
}

// nameMost is the longest name taken in, in letters.
const nameMost = 60

// readDrivers reads a register from CSV. Errors name file, line and what was expected.
func readDrivers(file string, data []byte) ([]importedDriver, error) {
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(data, []byte("\ufeff"))))
	r.FieldsPerRecord = -1
	head, err := r.Read()
	if err != nil {
		return nil, fmt.Errorf("%s: the first line must name the columns (%s)", file, strings.Join(driverColumns, ", "))
	}
	column := map[string]int{}
	for i, h := range head {
		h = strings.ToLower(strings.TrimSpace(h))
		if !slices.Contains(driverColumns, h) {
			return nil, fmt.Errorf("%s:1: unknown column %q; the columns are %s", file, h, strings.Join(driverColumns, ", "))
		}
		if _, twice := column[h]; twice {
			return nil, fmt.Errorf("%s:1: column %q stands twice", file, h)
		}
		column[h] = i
	}
	if _, ok := column["name"]; !ok {
		return nil, fmt.Errorf("%s:1: there is no column name", file)
	}
	var list []importedDriver
	line := map[string]int{}
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			return list, nil
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		at, _ := r.FieldPos(0)
		field := func(name string) string {
			if i, ok := column[name]; ok && i < len(row) {
				return norm.NFC.String(strings.TrimSpace(strings.TrimPrefix(row[i], "'")))
			}
			return ""
		}
		d := importedDriver{driverDoc{Name: field("name"), Short: field("short"), Class: field("class"), Car: field("car"), Group: field("group")}, field("id")}
		if n := field("nights"); n != "" {
			if d.Nights, err = strconv.Atoi(n); err != nil || d.Nights < 0 {
				return nil, fmt.Errorf("%s:%d: nights is %q; expected a whole number", file, at, n)
			}
		}
		if err := checkName(d.Name); err != nil {
			return nil, fmt.Errorf("%s:%d: %w", file, at, err)
		}
		if first, twice := line[d.Name]; twice {
			return nil, fmt.Errorf("%s:%d: %s is there already, in line %d", file, at, d.Name, first)
		}
		line[d.Name] = at
		list = append(list, d)
	}
}

func checkName(name string) error {
	switch {
	case name == "":
		return errors.New("a driver without a name")
	case len([]rune(name)) > nameMost:
		return fmt.Errorf("a name of %d letters; at most %d are taken", len([]rune(name)), nameMost)
	case strings.ContainsFunc(name, unicode.IsControl):
		return fmt.Errorf("the name %q has a control character", name)
	}
	return nil
}
