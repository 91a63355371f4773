"""Settings: small frozen values, one a stage, which a study file is made of."""
