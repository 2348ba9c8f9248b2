package api

import (
	"strings"

	"rowdatum/server/internal/flow"
)

// anybody is the role of who has no key.
const anybody flow.Role = 0

const ourServices = "/rowdatum.v1."

// leastRole is what a key must be to call a method. A method that is not here is refused to everybody; a
// test compares the list with the contract.
var leastRole = map[string]flow.Role{
	"AccessService/GetSession":       flow.Reader,
	"AccessService/EndSession":       flow.Reader,
	"AccessService/CreatePairing":    flow.Technician,
	"AccessService/RedeemPairing":    anybody,
	"AccessService/CreateShare":      flow.Technician,
	"AccessService/ListAuditEntries": flow.Owner,

	"ChangeService/ListChanges": flow.Reader,

	"DigService/CreateDig":    flow.Technician,
	"DigService/GetDig":       flow.Reader,
	"DigService/ListDigs":     flow.Reader,
	"DigService/AnalyzeDig":   flow.Reader,
	"DigService/AnalyzeSeeds": flow.Reader,

	"FieldService/GetFieldMove":     flow.Reader,
	"FieldService/ComputeFieldMove": flow.Reader,
	"FieldService/GetIndexCard":     flow.Reader,

	"FixtureService/CreateFixture": flow.Technician,
	"FixtureService/GetFixture":    flow.Reader,
	"FixtureService/ListFixtures":  flow.Reader,
	"FixtureService/UpdateFixture": flow.Technician,
	"FixtureService/DeleteFixture": flow.Owner,
	"FixtureService/StudyFixture":  flow.Technician,

	"HookService/CreateHook":       flow.Owner,
	"HookService/GetHook":          flow.Owner,
	"HookService/ListHooks":        flow.Owner,
	"HookService/UpdateHook":       flow.Owner,
	"HookService/DeleteHook":       flow.Owner,
	"HookService/RotateHookSecret": flow.Owner,
	"HookService/ListDeliveries":   flow.Owner,
	"HookService/ResendDelivery":   flow.Owner,

	"JobService/CreateJob":      flow.Technician,
	"JobService/GetJob":         flow.Reader,
	"JobService/ListJobs":       flow.Reader,
	"JobService/ListJobEvents":  flow.Reader,
	"JobService/AddReadings":    flow.Technician,
	"JobService/AddMoves":       flow.Technician,
	"JobService/ChangeParts":    flow.Technician,
	"JobService/AddInspections": flow.Technician,
	"JobService/AddNotes":       flow.Technician,
	"JobService/StrikeEvents":   flow.Technician,
	"JobService/TickCautions":   flow.Technician,
	"JobService/PlanJob":        flow.Technician,
	"JobService/SignJob":        flow.Technician,
	"JobService/VoidJob":        flow.Technician,
	"JobService/WatchJob":       flow.Reader,
	"JobService/GetJobSheet":    flow.Reader,

	"PlanService/ComputePlan": flow.Reader,

	"PlanterService/CreatePlanter": flow.Technician,
	"PlanterService/GetPlanter":    flow.Reader,
	"PlanterService/ListPlanters":  flow.Reader,
	"PlanterService/UpdatePlanter": flow.Technician,
	"PlanterService/DeletePlanter": flow.Owner,

	"StyleService/GetStyle":   flow.Reader,
	"StyleService/ListStyles": flow.Reader,

	"WearService/GetWear": flow.Reader,
}

// sharedMethods are what the key of a share may call, for its own job.
var sharedMethods = map[string]bool{
	"AccessService/GetSession": true,
	"JobService/GetJob":        true,
	"JobService/GetJobSheet":   true,
	"JobService/ListJobEvents": true,
	"JobService/WatchJob":      true,
	"StyleService/GetStyle":    true,
	"StyleService/ListStyles":  true,
}

// readersWrite are what a reader may call and yet leaves something behind.
var readersWrite = map[string]bool{"AccessService/EndSession": true}

// writes says whether a method leaves something behind.
func writes(method string) bool {
	name := strings.TrimPrefix(method, ourServices)
	if readersWrite[name] {
		return true
	}
	least, known := leastRole[name]
	_, verb, _ := strings.Cut(name, "/")
	reads := strings.HasPrefix(verb, "List") || strings.HasPrefix(verb, "Get")
	return known && least != flow.Reader && !reads
}

// openServices speak to whoever asks: they tell whether the service works and what its contract is.
var openServices = []string{"/grpc.health.v1.Health/", "/grpc.reflection."}

func isOpen(method string) bool {
	for _, service := range openServices {
		if strings.HasPrefix(method, service) {
			return true
		}
	}
	return false
}

var roleName = map[flow.Role]string{flow.Reader: "reader", flow.Technician: "technician", flow.Owner: "owner"}
