package main

import (
	"context"
	"fmt"
	"strings"

	"rowdatum/clients/cli/api"
	"rowdatum/clients/cli/draw"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// hookCommands are rowdatum hook ….
type hookCommands struct {
	Add        hookAdd        `cmd:"" help:"Have an address hear of the shop's jobs, and print the secret that signs what it is sent."`
	List       hookList       `cmd:"" help:"List the hooks."`
	Deliveries hookDeliveries `cmd:"" help:"List what a hook was sent, or is to be, newest first."`
	Resend     hookResend     `cmd:"" help:"Send again what was delivered or given up."`
	Rotate     hookRotate     `cmd:"" help:"Give a hook a new secret and print it; the one before signs as well for a day."`
	Remove     hookRemove     `cmd:"" help:"Remove a hook; what waits for it is not sent."`
}

// hookName is hooks/ID, or the ID alone.
type hookName string

// UnmarshalText reads a hook's name.
func (n *hookName) UnmarshalText(text []byte) error {
	id := strings.TrimPrefix(string(text), "hooks/")
	if !isID(id) {
		return fmt.Errorf("%q is not the name of a hook; write it as rowdatum hook list does", text)
	}
	*n = hookName("hooks/" + id)
	return nil
}

// deliveryName is hooks/H/deliveries/D.
type deliveryName string

// UnmarshalText reads a delivery's name.
func (n *deliveryName) UnmarshalText(text []byte) error {
	parts := strings.Split(string(text), "/")
	if len(parts) != 4 || parts[0] != "hooks" || !isID(parts[1]) || parts[2] != "deliveries" || !isID(parts[3]) {
		return fmt.Errorf("%q is not the name of a delivery; write it as rowdatum hook deliveries does", text)
	}
	*n = deliveryName(text)
	return nil
}

type hookAdd struct {
	URL    string   `arg:"" name:"url" help:"Where events are sent, https://…"`
	Events []string `enum:"job-opened,job-plan,job-signed,part-limit" default:"job-opened,job-plan,job-signed,part-limit" placeholder:"EVENT,…" help:"What it hears of: job-opened, job-plan, job-signed, part-limit; all of them otherwise."`
	ID     string   `name:"id" placeholder:"ID" help:"Its id: lower-case letters, digits and hyphens. The service chooses one otherwise."`
}

// Run adds a hook and prints its name and secret.
func (c *hookAdd) Run(ctx context.Context, a *app) error {
	hook := &rowdatumv1.Hook{Url: c.URL}
	for _, e := range c.Events {
		hook.Events = append(hook.Events, rowdatumv1.HookEvent(rowdatumv1.HookEvent_value[strings.ToUpper(strings.ReplaceAll(e, "-", "_"))]))
	}
	return a.kept(func(client *api.Client) error {
		made, answer, err := client.CreateHook(ctx, c.ID, hook)
		if err != nil {
			return refusedIn("the hook", err, nowhere, map[string]string{"hookId": "--id", "hook.url": "URL", "hook.events": "--events"})
		}
		return a.print(answer, draw.HookSecret(made))
	})
}

type hookList struct{}

// Run lists hooks.
func (c *hookList) Run(ctx context.Context, a *app) error {
	return a.kept(func(client *api.Client) error {
		hooks, err := client.Hooks(ctx)
		if err != nil {
			return err
		}
		if a.flags.JSON {
			return a.printMessage(&rowdatumv1.ListHooksResponse{Hooks: hooks})
		}
		return a.print(nil, draw.Hooks(hooks))
	})
}

type hookDeliveries struct {
	Hook  hookName `arg:"" help:"The hook, as hook list names it."`
	State string   `enum:",waiting,delivered,dead" default:"" placeholder:"STATE" help:"Only those that are waiting, delivered or dead (given up after three days)."`
}

// Run lists deliveries.
func (c *hookDeliveries) Run(ctx context.Context, a *app) error {
	filter := ""
	if c.State != "" {
		filter = "state=" + strings.ToUpper(c.State)
	}
	return a.kept(func(client *api.Client) error {
		deliveries, err := client.Deliveries(ctx, string(c.Hook), filter)
		if err != nil {
			return err
		}
		if a.flags.JSON {
			return a.printMessage(&rowdatumv1.ListDeliveriesResponse{Deliveries: deliveries})
		}
		return a.print(nil, draw.Deliveries(deliveries))
	})
}

type hookResend struct {
	Deliveries []deliveryName `arg:"" help:"The deliveries, as hook deliveries names them."`
}

// Run sends deliveries again, and prints each one's name.
func (c *hookResend) Run(ctx context.Context, a *app) error {
	return a.kept(func(client *api.Client) error {
		for _, name := range c.Deliveries {
			again, answer, err := client.ResendDelivery(ctx, string(name))
			if err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
			if err := a.print(answer, again.GetName()+" is sent again\n"); err != nil {
				return err
			}
		}
		return nil
	})
}

type hookRotate struct {
	Hook hookName `arg:"" help:"The hook, as hook list names it."`
}

// Run gives a hook a new secret, and prints it.
func (c *hookRotate) Run(ctx context.Context, a *app) error {
	return a.kept(func(client *api.Client) error {
		hook, answer, err := client.RotateHookSecret(ctx, string(c.Hook))
		if err != nil {
			return err
		}
		return a.print(answer, draw.HookSecret(hook))
	})
}

type hookRemove struct {
	Hook hookName `arg:"" help:"The hook, as hook list names it."`
}

// Run removes a hook.
func (c *hookRemove) Run(ctx context.Context, a *app) error {
	return a.kept(func(client *api.Client) error {
		answer, err := client.DeleteHook(ctx, string(c.Hook))
		if err != nil {
			return err
		}
		return a.print(answer, string(c.Hook)+" is removed\n")
	})
}
