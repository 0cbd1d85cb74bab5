package main

import (
	"fmt"

	"github.com/spf13/cobra"
)

// group makes a command that only holds others: alone it shows them, with a wrong word it says which one may have been meant.
func group(cmd *cobra.Command, children ...*cobra.Command) *cobra.Command {
	cmd.AddCommand(children...)
	cmd.SuggestionsMinimumDistance = 2
	cmd.Args = cobra.ArbitraryArgs
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 {
			return cmd.Help()
		}
		return unknownCommand(cmd, args[0])
	}
	return cmd
}

func unknownCommand(cmd *cobra.Command, word string) error {
	if near := cmd.SuggestionsFor(word); len(near) > 0 {
		return fmt.Errorf("%s has no command %q; did you mean %q", cmd.CommandPath(), word, near[0])
	}
	return fmt.Errorf("%s has no command %q; see %s --help", cmd.CommandPath(), word, cmd.CommandPath())
}
