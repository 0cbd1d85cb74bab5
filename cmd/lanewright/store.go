package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"github.com/spf13/cobra"

	"lanewright/store"
)

func storeCommand() *cobra.Command {
	return group(&cobra.Command{
		Use:   "store",
		Short: "Check, back up, restore and salvage the file that holds the nights",
	}, storeCheckCommand(), storeBackupCommand(), storeRestoreCommand(), storeSalvageCommand(), storeRebuildCommand())
}

func storeCheckCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "check FILE",
		Short: "Scan every record of a store; exit 1 if anything is wrong",
		Args:  cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			report, err := store.Check(args[0])
			if err != nil && !errors.Is(err, store.ErrDamaged) {
				return missing(err, args[0])
			}
			if asJSON {
				if err := printJSON(cmd.OutOrStdout(), report); err != nil {
					return err
				}
			} else {
				printReport(cmd.OutOrStdout(), report)
			}
			if err != nil || !report.Good() {
				return errAnswerNo
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the report as JSON")
	return cmd
}

func printReport(w io.Writer, r store.Report) {
	fmt.Fprintf(w, "%s: %d nights, %d records, %d documents in the register, %d bytes, scanned in %s\n",
		r.Path, len(r.Nights), r.Records(), r.Documents, r.Bytes, r.Took.Round(100_000))
	for _, n := range r.Notices {
		fmt.Fprintln(w, "note:", n)
	}
	for _, p := range r.Problems {
		fmt.Fprintln(w, "damage:", p)
	}
	if r.Dropped > 0 {
		fmt.Fprintf(w, "and %d more of the same\n", r.Dropped)
	}
	if r.Good() {
		fmt.Fprintln(w, "nothing wrong")
		return
	}
	fmt.Fprintf(w, "do not write to this file; save what is good with: lanewright store salvage %s NEWFILE\n", r.Path)
}

func storeBackupCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "backup FILE DESTINATION",
		Short: "Copy a store to a second place, scan the copy, then put it in place",
		Long:  "Copies a store that no night is using. While a night runs, set backup in the night sheet: the program then copies after each heat.",
		Args:  cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := store.Open(args[0], store.Options{ReadOnly: true, MustExist: true, Program: "lanewright store backup"})
			if err != nil {
				return missing(err, args[0])
			}
			defer s.Close()
			info, err := s.Backup(cmd.Context(), args[1])
			if err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: %d records, %d bytes, scanned\n", info.Path, info.Records, info.Bytes)
			return nil
		},
	}
}

func storeRestoreCommand() *cobra.Command {
	var replace bool
	cmd := &cobra.Command{
		Use:   "restore BACKUP FILE",
		Short: "Put a backup back; a store already there is kept under another name",
		Args:  cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			info, err := store.Restore(args[0], args[1], store.RestoreOptions{Replace: replace})
			if errors.Is(err, store.ErrExists) {
				return fmt.Errorf("%w; add --replace to put the backup in its place (the store there is kept under another name)", err)
			}
			if err != nil {
				return missing(err, args[0])
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: %d records restored\n", args[1], info.Report.Records())
			if info.Kept != "" {
				fmt.Fprintf(cmd.OutOrStdout(), "what was there is kept as %s\n", info.Kept)
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&replace, "replace", false, "a store is already there: keep it under another name")
	return cmd
}

func storeSalvageCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "salvage DAMAGED NEWFILE",
		Short: "Save every good record of a damaged store into a new file and name what is missing",
		Args:  cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			report, err := store.Salvage(args[0], args[1])
			if err != nil {
				return missing(err, args[0])
			}
			if asJSON {
				return printJSON(cmd.OutOrStdout(), report)
			}
			for _, p := range report.Problems {
				fmt.Fprintln(cmd.OutOrStdout(), "lost:", p)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: %d records of %d nights saved\n", args[1], report.Records(), len(report.Nights))
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the report as JSON")
	return cmd
}

// missing turns a bare "no such file" into a sentence with the file and what to do.
func missing(err error, path string) error {
	if errors.Is(err, fs.ErrNotExist) {
		if _, statErr := os.Stat(path); statErr != nil {
			return fmt.Errorf("there is no file %s; check the name", path)
		}
	}
	return err
}

func printJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}
