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
	sqlAnswer = `SELECT method, body_hash, response, time FROM answers WHERE shop = $1 AND request_id = $2`

	keyColumns = `shop, id, role, label, hash, job_planter, job, create_time, expire_time, revoke_time`
	sqlPutKey  = `INSERT INTO keys (` + keyColumns + `) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
		ON CONFLICT (shop, id) DO UPDATE SET role = $3, label = $4, hash = $5, job_planter = $6, job = $7,
		create_time = $8, expire_time = $9, revoke_time = $10`
	sqlKeyByHash = `SELECT ` + keyColumns + ` FROM keys WHERE hash = $1`
	sqlKeys      = `SELECT ` + keyColumns + ` FROM keys WHERE shop = $1 ORDER BY create_time, id`

	sqlPutPairing  = `INSERT INTO pairings (code_hash, shop, role, label, expire_time) VALUES ($1, $2, $3, $4, $5) ON CONFLICT DO NOTHING`
	sqlTakePairing = `DELETE FROM pairings WHERE code_hash = $1 RETURNING code_hash, shop, role, label, expire_time`

	sqlPutAudit = `INSERT INTO audit (shop, time, key_label, method, resource, request_id) VALUES ($1, $2, $3, $4, $5, $6)`
	sqlAudit    = `SELECT serial, shop, time, key_label, method, resource, request_id FROM audit
		WHERE shop = $1 AND serial < $2 ORDER BY serial DESC LIMIT $3`
)
