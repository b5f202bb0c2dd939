"""Run migrations on the connection that the caller passes in.

The caller owns the transaction: the steps are taken all together or not at all.
"""

from alembic import context

from ledger.store import people_schema, schema

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=[schema.metadata, people_schema.metadata],
    render_as_batch=True,
    compare_type=True,
    compare_server_default=True,
    transactional_ddl=True,
    autogenerate_plugins=[
        "alembic.autogenerate.*",
        "alembic.ext.checkconstraint_byname",
    ],
)
with context.begin_transaction():
    context.run_migrations()
