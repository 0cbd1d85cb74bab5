package main

import (
	"bytes"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"lanewright/store"
)

func nightExportCommand() *cobra.Command {
	var out string
	cmd := &cobra.Command{
		Use:   "export FILE [NIGHT]",
		Short: "Write a night whole, to be imported on another machine",
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
			var b bytes.Buffer
			if err := s.ExportNight(night.id, &b); err != nil {
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

func nightImportCommand() *cobra.Command {
	var as string
	cmd := &cobra.Command{
		Use:   "import FILE EXPORTED",
		Short: "Take an exported night into a store; all of it or nothing",
		Args:  cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			f, err := os.Open(args[1])
			if err != nil {
				return missing(err, args[1])
			}
			defer f.Close()
			s, err := store.Open(args[0], store.Options{Program: "lanewright night import"})
			if err != nil {
				return err
			}
			defer s.Close()
			info, err := s.ImportNight(cmd.Context(), f, as)
			if err != nil {
				return fmt.Errorf("%s: %w", args[1], err)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: night %q, %d records\n", args[0], info.ID, info.Records)
			return s.Close()
		},
	}
	cmd.Flags().StringVar(&as, "as", "", "id of the night in this store (default: as exported)")
	return cmd
}
