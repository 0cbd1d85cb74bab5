package main

import (
	"bytes"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"lanewright/race"
	"lanewright/tui/paper"
)

func nightSheetsCommand() *cobra.Command {
	var out, kind, only string
	cmd := &cobra.Command{
		Use:   "sheets FILE [NIGHT]",
		Short: "Heat sheets, marshal plan and results as PDF, HTML, CSV or text",
		Args:  cobra.RangeArgs(1, 2),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := openForReading(args[0])
			if err != nil {
				return err
			}
			defer s.Close()
			night, err := pickNight(s, args[1:])
			if err != nil {
				return err
			}
			if kind == "" {
				kind = kindOfFile(out, "text")
			}
			sheets, err := sheetsOf(night.Snapshot(night.ended), only)
			if err != nil {
				return err
			}
			var b bytes.Buffer
			if err := writeSheets(&b, kind, night.Info().Title, sheets); err != nil {
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
	cmd.Flags().StringVar(&kind, "as", "", "pdf, html, csv or text (default: by the ending of the file)")
	cmd.Flags().StringVar(&only, "sheet", "", "heats, marshals or results (default: all; csv needs one)")
	return cmd
}

// sheetsOf makes the sheets of a night, or the one named.
func sheetsOf(s *race.Snapshot, only string) ([]paper.Document, error) {
	all := []paper.Document{paper.Heats(s), paper.Marshals(s), paper.Results(s)}
	if only == "" {
		return all, nil
	}
	for _, d := range all {
		if d.Name == only {
			return []paper.Document{d}, nil
		}
	}
	return nil, fmt.Errorf("there is no sheet %q; there are heats, marshals and results", only)
}

func writeSheets(w io.Writer, kind, title string, sheets []paper.Document) error {
	switch kind {
	case "pdf":
		return paper.PDF(w, sheets...)
	case "html", "htm":
		return paper.HTML(w, title, sheets...)
	case "csv":
		if len(sheets) != 1 {
			return fmt.Errorf("a CSV file holds one table: name it with --sheet heats, marshals or results")
		}
		return paper.CSV(w, sheets[0].Tables[0])
	case "text", "txt":
		for i, d := range sheets {
			if i > 0 {
				fmt.Fprintln(w)
			}
			if err := paper.Plain(w, d); err != nil {
				return err
			}
		}
		return nil
	}
	return fmt.Errorf("cannot write sheets as %q; use pdf, html, csv or text", kind)
}
