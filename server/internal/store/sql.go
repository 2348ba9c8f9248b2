package store

// The SQL text, one for both databases. Whatever is sorted or compared sorts by its bytes in both.
const (
	sqlProbe = `UPDATE writer SET probes = probes + 1`

	sqlPutShop = `INSERT INTO shops (shop) VALUES ($1) ON CONFLICT DO NOTHING`
	sqlShops   = `SELECT shop FROM shops ORDER BY shop`

	sqlDeletePlanter = `DELETE FROM planters WHERE shop = $1 AND id = $2
		AND NOT EXISTS (SELECT 1 FROM jobs WHERE jobs.shop = $1 AND jobs.planter = $2)
		AND NOT EXISTS (SELECT 1 FROM digs WHERE digs.shop = $1 AND digs.id > $3 AND digs.id < $4)`
	sqlDeleteFixture = `DELETE FROM fixtures WHERE shop = $1 AND id = $2`

	sqlPutTerm    = `INSERT INTO terms (shop, kind, name, value, place) VALUES ($1, $2, $3, $4, $5)`
	sqlCountTerm  = `SELECT count(*) FROM (SELECT 1 FROM terms WHERE shop = $1 AND kind = $2 AND name = $3 AND value = $4 LIMIT $5) AS few`
	sqlDropTerms  = `DELETE FROM terms WHERE shop = $1 AND kind = $2 AND place = $3`
	sqlChangeTerm = `UPDATE terms SET value = $5 WHERE shop = $1 AND kind = $2 AND place = $3 AND name = $4`

	sqlPutJob = `INSERT INTO jobs (shop, planter, job, place, fixture, work_order, external_ids, stage, revision, create_time, update_time)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11) ON CONFLICT DO NOTHING`
	sqlJob = `SELECT ` + jobColumns + ` FROM jobs x WHERE x.shop = $1 AND x.planter = $2 AND x.job = $3`
	// The revision that it must have is what keeps two writers from appending the same one.
	sqlMoveJob = `UPDATE jobs SET stage = $4, revision = $5, update_time = $6
		WHERE shop = $1 AND planter = $2 AND job = $3 AND revision = $7`
	jobColumns = `x.shop, x.planter, x.job, x.fixture, x.work_order, x.external_ids, x.stage, x.revision, x.create_time, x.update_time`

	sqlPutEvent = `INSERT INTO events (shop, planter, job, revision, body) VALUES ($1, $2, $3, $4, $5)`
	sqlEvents   = `SELECT body FROM events WHERE shop = $1 AND planter = $2 AND job = $3 AND revision > $4 ORDER BY revision LIMIT $5`

	sqlPutAnswer = `INSERT INTO answers (shop, request_id, method, body_hash, response, time)
		VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT DO NOTHING`
	sqlOldAnswers = `SELECT shop, request_id FROM answers WHERE time < $1 LIMIT $2`
	sqlDropAnswer = `DELETE FROM answers WHERE shop = $1 AND request_id = $2`
	sqlAnswer     = `SELECT method, body_hash, response, time FROM answers WHERE shop = $1 AND request_id = $2`

	keyColumns = `shop, id, role, label, hash, job_planter, job, create_time, expire_time, revoke_time`
	sqlPutKey  = `INSERT INTO keys (` + keyColumns + `) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
		ON CONFLICT (shop, id) DO UPDATE SET role = $3, label = $4, hash = $5, job_planter = $6, job = $7,
		create_time = $8, expire_time = $9, revoke_time = $10`
	sqlKeyByHash = `SELECT ` + keyColumns + ` FROM keys WHERE hash = $1`
	sqlKeys      = `SELECT ` + keyColumns + ` FROM keys WHERE shop = $1 ORDER BY create_time, id`

	sqlPutPairing   = `INSERT INTO pairings (code_hash, shop, role, label, expire_time) VALUES ($1, $2, $3, $4, $5) ON CONFLICT DO NOTHING`
	sqlDropPairings = `DELETE FROM pairings WHERE expire_time <= $1`
	sqlOpenPairings = `SELECT count(*) FROM pairings WHERE shop = $1 AND expire_time > $2`
	sqlTakePairing  = `DELETE FROM pairings WHERE code_hash = $1 RETURNING code_hash, shop, role, label, expire_time`

	sqlPutAudit = `INSERT INTO audit (shop, time, key_label, method, resource, request_id) VALUES ($1, $2, $3, $4, $5, $6)`
	sqlAudit    = `SELECT serial, shop, time, key_label, method, resource, request_id FROM audit
		WHERE shop = $1 AND serial < $2 ORDER BY serial DESC LIMIT $3`

	// Its last term is that of the index, to the letter: that is how both engines know it again.
	sqlChanges = `SELECT serial, shop, time, key_label, method, resource, request_id FROM audit
		WHERE shop = $1 AND serial > $2 AND method IN (` + changeMethods + `) ORDER BY serial LIMIT $3`
	changeMethods = `'CreateJob', 'PlanJob', 'SignJob', 'VoidJob', 'CreatePlanter', 'UpdatePlanter', 'DeletePlanter'`

	sqlDueHooks = `SELECT x.shop, x.body FROM hooks x WHERE EXISTS
		(SELECT 1 FROM deliveries d WHERE d.shop = x.shop AND d.hook = x.id AND d.due > 0 AND d.due <= $1)`
	sqlWaiting = `SELECT x.body, (SELECT min(d.create_time) FROM deliveries d WHERE d.shop = x.shop AND d.hook = x.id AND d.state = 1) FROM hooks x
		WHERE EXISTS (SELECT 1 FROM deliveries d WHERE d.shop = x.shop AND d.hook = x.id AND d.state = 1)`
	sqlDeleteHook     = `DELETE FROM hooks WHERE shop = $1 AND id = $2`
	sqlDeleteHeard    = `DELETE FROM deliveries WHERE shop = $1 AND hook = $2`
	sqlDropDeliveries = `DELETE FROM deliveries WHERE serial IN (SELECT serial FROM deliveries WHERE end_time > 0 AND end_time < $1 LIMIT $2)`

	deliveryColumns = `serial, shop, hook, id, job, event, body, state, attempts, create_time, first_time, due, end_time, last_status, last_problem`
	sqlPutDelivery  = `INSERT INTO deliveries (shop, hook, id, job, event, body, state, attempts, create_time, first_time, due, end_time, last_status, last_problem)
		VALUES ($1, $2, $3, $4, $5, $6, 1, 0, $7, 0, 0, 0, 0, '')`
	sqlDelivery   = `SELECT ` + deliveryColumns + ` FROM deliveries WHERE shop = $1 AND hook = $2 AND id = $3`
	sqlDeliveries = `SELECT ` + deliveryColumns + ` FROM deliveries
		WHERE shop = $1 AND hook = $2 AND serial < $3 AND ($4 = 0 OR state = $4) ORDER BY serial DESC LIMIT $5`
	sqlDueDeliveries = `SELECT ` + deliveryColumns + ` FROM deliveries
		WHERE shop = $1 AND hook = $2 AND due > 0 AND due <= $3 ORDER BY due, serial LIMIT $4`
	sqlClaimDelivery = `UPDATE deliveries SET due = $2 WHERE serial = $1`
	sqlKeepDelivery  = `UPDATE deliveries SET state = $3, attempts = $4, first_time = $5, due = $6, end_time = $7, last_status = $8, last_problem = $9
		WHERE serial = $1 AND due = $2`
	sqlResendDelivery = `UPDATE deliveries SET state = 1, attempts = 0, first_time = 0, due = 0, end_time = 0 WHERE serial = $1`
	// Makes the first that waits of a hook and a job due, unless one of them is.
	sqlNextDelivery = `UPDATE deliveries SET due = $4
		WHERE serial = (SELECT min(serial) FROM deliveries WHERE shop = $1 AND hook = $2 AND job = $3 AND state = 1)
		AND NOT EXISTS (SELECT 1 FROM deliveries WHERE shop = $1 AND hook = $2 AND job = $3 AND state = 1 AND due > 0)`
)
