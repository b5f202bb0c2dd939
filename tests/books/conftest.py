"""A property holds however long it takes: no test here is timed."""

from hypothesis import HealthCheck, settings

settings.register_profile("untimed", deadline=None)
settings.register_profile(
    "long",
    deadline=None,
    max_examples=100,
    stateful_step_count=60,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    print_blob=True,
)
settings.load_profile("untimed")
