package main

import (
	"encoding/json"
	"fmt"
	"time"

	"github.com/spf13/cobra"
)

func nightShowCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "show FILE [NIGHT]",
		Short: "The results of a night in the store, the newest if none is named",
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
			if asJSON {
				return printJSON(cmd.OutOrStdout(), resultsOf(night.Report()))
			}
			return printResults(cmd.OutOrStdout(), night.Report())
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the results as JSON")
	return cmd
}

func nightListCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "list FILE",
		Short: "The nights in a store",
		Args:  cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := openForReading(args[0])
			if err != nil {
				return err
			}
			defer s.Close()
			nights, err := s.Nights()
			if err != nil {
				return err
			}
			list := []nightAnswer{}
			for _, n := range nights {
				a := nightAnswer{Night: n.ID, Created: n.Created, Records: n.Records}
				_ = json.Unmarshal(n.Meta, &a.metaOf) // a night made by another program has no title here
				list = append(list, a)
			}
			if asJSON {
				return printJSON(cmd.OutOrStdout(), list)
			}
			for _, a := range list {
				fmt.Fprintf(cmd.OutOrStdout(), "%s  %s  %8d records  %s\n", pad(a.Night, 30), a.Created.Local().Format("2006-01-02 15:04"), a.Records, a.Title)
			}
			if len(list) == 0 {
				fmt.Fprintln(cmd.OutOrStdout(), "no night yet")
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the list as JSON")
	return cmd
}

// nightAnswer is one line of `night list --json`.
type nightAnswer struct {
	Night   string    `json:"night"`
	Created time.Time `json:"created"`
	Records uint64    `json:"records"`
	metaOf
}
