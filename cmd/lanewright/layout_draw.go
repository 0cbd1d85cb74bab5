package main

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"lanewright/layout"
	"lanewright/layout/draw"
)

func layoutDrawCommand() *cobra.Command {
	var out, kind, paper string
	var scale float64
	var ascii, asJSON bool
	var width, height int
	cmd := &cobra.Command{
		Use:   "draw PLAN",
		Short: "Draw a layout as SVG, PDF or a picture in the terminal",
		Args:  cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			track, _, err := resolvePlan(args[0])
			if err != nil {
				return err
			}
			if asJSON && (out == "-" || out == "" && kind != "") {
				return fmt.Errorf("--json prints the drawing as data; name a file with -o for the picture beside it")
			}
			if kind == "" {
				kind = kindOfFile(out, "text")
				if out == "-" {
					kind = "svg"
				}
			}
			if scale < 0 || scale > 1000 {
				return fmt.Errorf("--scale is %g; it is the denominator of the drawing, such as 10 for 1:10, or 0 to fit the paper", scale)
			}
			o := draw.Options{Denominator: scale, Title: track.Plan.Name}
			if o.PaperWMM, o.PaperHMM, err = paperSize(paper); err != nil {
				return err
			}
			geometry := geometryOf(args[0], track)
			if asJSON && out == "" {
				return printJSON(cmd.OutOrStdout(), geometry)
			}
			var picture bytes.Buffer
			if err := drawAs(&picture, kind, track, o, ascii, width, height); err != nil {
				return err
			}
			if out == "" || out == "-" {
				_, err := io.Copy(cmd.OutOrStdout(), &picture)
				return err
			}
			if err := writeWhole(out, picture.Bytes()); err != nil || !asJSON {
				return err
			}
			geometry.File, geometry.As, geometry.Bytes = out, kind, picture.Len()
			return printJSON(cmd.OutOrStdout(), geometry)
		},
	}
	cmd.Flags().StringVarP(&out, "out", "o", "", "file to write, - for standard output; without it a picture in the terminal")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the drawing as JSON: tables, pieces and lanes as places in mm")
	cmd.Flags().StringVar(&kind, "as", "", "svg, pdf or text (default: by the ending of the file)")
	cmd.Flags().Float64Var(&scale, "scale", 0, "10 draws 1:10; 0 fits the paper")
	cmd.Flags().StringVar(&paper, "paper", "", "a4, a3, or WIDTHxHEIGHT in mm (default: as large as needed)")
	cmd.Flags().BoolVar(&ascii, "ascii", false, "text picture in plain ASCII")
	cmd.Flags().IntVar(&width, "width", 78, "columns of a text picture")
	cmd.Flags().IntVar(&height, "height", 30, "rows of a text picture")
	return cmd
}

func drawAs(w io.Writer, kind string, t layout.Track, o draw.Options, ascii bool, width, height int) error {
	switch kind {
	case "svg":
		return draw.SVG(w, t, o)
	case "pdf":
		return draw.PDF(w, t, o)
	case "text", "txt":
		if width < 10 || width > 1000 || height < 4 || height > 1000 {
			return fmt.Errorf("a text picture of %d x %d: it is from 10 x 4 to 1000 x 1000", width, height)
		}
		_, err := fmt.Fprintln(w, draw.Cells(t, width, height, draw.CellOptions{ASCII: ascii}).String())
		return err
	}
	return fmt.Errorf("cannot draw as %q; use svg, pdf or text", kind)
}

func paperSize(name string) (width, height float64, err error) {
	switch strings.ToLower(name) {
	case "":
		return 0, 0, nil
	case "a4": // ISO 216, lying
		return 297, 210, nil
	case "a3":
		return 420, 297, nil
	}
	if n, err := fmt.Sscanf(strings.ToLower(name), "%fx%f", &width, &height); n != 2 || err != nil || !(width >= 50 && width <= 5000 && height >= 50 && height <= 5000) {
		return 0, 0, fmt.Errorf("--paper is %q; use a4, a3, or WIDTHxHEIGHT in mm from 50x50 to 5000x5000", name)
	}
	return width, height, nil
}
